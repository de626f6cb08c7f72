// Package image makes the file that is flashed into a board: the program, the
// same for every rig, and beside it the block that makes it fit one rig
// (firmware/boards/mega2560/block.h).
//
// It reads and writes no file and talks to no programmer: bytes in, bytes out.
// Start reading at Fit; Board is the program that this binary carries.
package image
