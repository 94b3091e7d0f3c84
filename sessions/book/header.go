package book

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
)

// header is what the first 100 bytes of a file tell (SQLite's file format, 1.3).
type header struct {
	odd     bool // not a file
	file    fs.FileInfo
	sqlite  bool
	app     uint32
	version int
	spare   byte // bytes at the end of each page, 8 where they are a checksum
}

// readHeader reads no more than the header: what isn't ours isn't even opened as
// a database, which could roll back a journal that another program left.
func readHeader(path string) (h header, err error) {
	f, err := os.Open(path)
	if err != nil {
		return header{}, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	st, err := f.Stat()
	if err != nil {
		return header{}, err
	}
	if !st.Mode().IsRegular() {
		return header{odd: true}, nil
	}
	var b [100]byte
	n, err := io.ReadFull(f, b[:])
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return header{}, err
	}
	h = header{file: st}
	if n == len(b) {
		h.sqlite = bytes.HasPrefix(b[:], []byte("SQLite format 3\x00"))
		h.version = int(int32(binary.BigEndian.Uint32(b[60:])))
		h.app = binary.BigEndian.Uint32(b[68:])
		h.spare = b[20]
	}
	return h, nil
}

func (h header) check(path string) error {
	switch {
	case h.odd:
		return &Error{Path: path, Kind: KindNotABook, What: path + " is no book: it is a folder or a device", Remedy: "name another with --book"}
	case h.app == ApplicationID && (!h.sqlite || h.version >= checksummed && h.spare != 8):
		return &Error{Path: path, Kind: KindDamaged, What: "book " + path + ": its first bytes are damaged", Remedy: damageRemedy}
	case h.app == ApplicationID:
		return checkVersion(path, h.version)
	case h.file.Size() == 0:
		return &Error{Path: path, Kind: KindNotABook, What: path + " is no book: it is empty", Remedy: "remove it, or name another with --book"}
	case h.sqlite:
		return &Error{Path: path, Kind: KindNotABook, What: path + " is no book: it is another program's database", Remedy: "name another with --book"}
	}
	return &Error{Path: path, Kind: KindNotABook, What: path + " is no book", Remedy: "name another with --book"}
}

// Layout returns the layout of the books that this program writes.
func Layout() int { return len(migrations()) }

func checkVersion(path string, version int) error {
	if version <= Layout() {
		return nil
	}
	return &Error{Path: path, Kind: KindNewer,
		What:   fmt.Sprintf("book %s is from a newer version: its layout is %d, this program knows up to %d", path, version, Layout()),
		Remedy: "use the newer program; the book was not touched"}
}
