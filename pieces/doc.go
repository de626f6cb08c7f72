// Package pieces reads the drawing of a pressed stem, of the mould that it is
// pressed in and of the tube that its blank is cut from, finds what cannot be
// pressed, and tells what follows: volumes, sections, clearances, and a drawing
// with dimensions.
//
// It never opens a file, never looks up a glass and never says that a piece
// will come out: what a file may be is checked, what glass does is not. A piece
// names its glass, a mould its piece; the caller brings them together.
//
// Sizes are of the cold piece in mm and are given where they are narrowest:
// every face widens from there by the draft, so that the piece leaves its
// mould. Heights count from the datum, the lower face of the body.
//
// Start reading at Piece and ParsePiece; mould.go and tube.go are the other two
// files, figures.go what follows from a piece, together.go the checks of all
// three, draw.go the drawing, FORMAT.md the files.
package pieces
