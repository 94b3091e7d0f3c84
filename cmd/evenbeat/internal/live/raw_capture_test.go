package live

import "testing"

func TestRawFile(t *testing.T) {
	if got := rawFile("/a/book.db", 7, ""); got != "/a/book.raw/session-7.capture" {
		t.Errorf("got %s", got)
	}
	if got := rawFile("/a/book.db", 7, "-reference"); got != "/a/book.raw/session-7-reference.capture" {
		t.Errorf("got %s", got)
	}
}
