package book

import (
	"errors"
	"io/fs"
	"os"
	"sync/atomic"
)

// openFile tells the open file from others. SQLite goes on writing into a file that has
// lost its name, and none of that would ever be seen again.
type openFile struct {
	id   fs.FileInfo  // as it was when the book was opened
	size atomic.Int64 // the longest that it was seen to be: a book never shrinks
}

// inPlace returns an error unless the book's name still leads to the file that is open,
// and that is as long as it was.
func (b *Book) inPlace(doing string) error {
	if b.at != "" {
		return &Error{Path: b.path, Kind: KindReadOnly, What: "book " + b.path + ": " + doing + ": it may not be written where it lies",
			Remedy: "name another book"}
	}
	least := b.file.size.Load() // first: another write may lengthen it meanwhile
	st, err := os.Stat(b.path)
	what := ""
	switch {
	case errors.Is(err, fs.ErrNotExist):
		what = "was deleted or renamed"
	case err != nil:
		return fail(b.path, doing, err)
	case !os.SameFile(b.file.id, st):
		what = "was replaced by another"
	case st.Size() < least:
		what = "was cut short"
	default:
		b.file.size.Store(st.Size())
		return nil
	}
	return &Error{Path: b.path, Kind: KindGone, What: "book " + b.path + ": " + doing + ": the file " + what + " while it was open",
		Remedy: "this and what follows is not kept: put the book back, or restore a backup, then begin anew"}
}
