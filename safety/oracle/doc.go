// Package oracle is the cause-and-effect matrix a second time: typed by hand
// from the requirement, in words, cell by cell. Tests and the fault campaign
// judge the software by it.
//
// It imports nothing, so that a slip in package safety or safety/warden cannot
// reach it, and it is never generated from them: where the two differ, a test
// of package safety prints the cell. It protects nobody; it only contradicts.
//
// Start reading at Rows.
package oracle
