// Package yamlfile reads the project's own YAML strictly: every value knows its
// file, line and column, and every fault is told with what would be right.
//
// It takes bytes and a name, opens nothing, and never stops at the first fault:
// all problems of a file come at once, in the order of the file. Anchors,
// aliases, merge keys, tags, several documents, duplicate keys, oversize and
// overdeep input are refused, so that what a person reads is what is meant and
// a small file cannot become a large one. Quantities carry their unit in the
// text; a truth value is true or false and nothing else (yes, no, on and off
// are words); a count is a plain decimal number.
//
// Start reading at Read, then node.go for the readers of single values.
package yamlfile
