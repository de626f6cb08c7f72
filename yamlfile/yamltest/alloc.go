package yamltest

// MostAllocated bounds, in bytes, what a parser of our files allocates in all
// for a text of n bytes. The library keeps tokens and nodes and compares each
// key of a map with all before it, hence so much a byte; yamlfile.MostBytes
// and MostKeys hold the whole of it.
func MostAllocated(n int) int { return min(512<<10+4<<10*n, 64<<20) }
