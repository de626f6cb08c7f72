package oracle

import "testing"

// A word outside its order is told, never taken for the weakest.
func TestStrongestOfAWrongWord(t *testing.T) {
	if got := Strongest(Row{Gas: "shut"}, Row{Gas: "keep"}).Gas; got != "shut" {
		t.Error(got)
	}
	if got := Strongest(Row{Gas: "off"}, Row{Gas: "of"}).Gas; got != "a word outside the order" {
		t.Error(got)
	}
}

func TestFind(t *testing.T) {
	if r, ok := Find(34); !ok || r.Lock != "hold" {
		t.Error(r, ok)
	}
	if _, ok := Find(99); ok {
		t.Error("row 99 exists")
	}
}
