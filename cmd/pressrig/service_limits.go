package main

import "golang.org/x/sys/unix"

// maxFiles keeps every descriptor below 1,024, where the select() of the serial
// library panics. 256 connections, the database, the broker and its clients
// stay far below it.
const maxFiles = 990

// limitFiles lowers the process's limit of open files to maxFiles.
func limitFiles() error {
	var l unix.Rlimit
	if err := unix.Getrlimit(unix.RLIMIT_NOFILE, &l); err != nil {
		return err
	}
	if l.Cur <= maxFiles {
		return nil
	}
	l.Cur = maxFiles
	return unix.Setrlimit(unix.RLIMIT_NOFILE, &l)
}
