// Package pages reads the pages of an SQLite file without SQLite, so that one page
// that is damaged hides none of the others. It believes a page whose checksum is good,
// or, in a file without checksums, one whose structure is sound.
//
// Source of all formats: "Database File Format", sqlite.org/fileformat2.html; of the
// pages' checksums: "The Checksum VFS Shim", sqlite.org/cksumvfs.html.
package pages

import (
	"encoding/binary"
	"errors"
	"io"
)

// File is an SQLite file with its write-ahead log.
type File struct {
	// Count is how many pages there are, the last one whole or not.
	Count uint32
	// Checksums tells whether each page ends with one.
	Checksums bool
	// LogLost is how many pages of the log are damaged. What was last written to them
	// is lost; the file has them as they were before.
	LogLost int

	r      io.ReaderAt
	size   int // of a page
	usable int // of it, without the checksum
	log    map[uint32][]byte
}

// usual is the size of a page where the header doesn't tell it: SQLite's default.
const usual = 4096

// Open looks at a file of so many bytes and at its write-ahead log, which may be empty.
func Open(r io.ReaderAt, bytes int64, log []byte) (*File, error) {
	f := &File{r: r, size: usual}
	head := make([]byte, 100)
	if n, err := r.ReadAt(head, 0); err != nil && err != io.EOF {
		return nil, err
	} else if string(head[:min(n, 16)]) == "SQLite format 3\x00" {
		if n := int(binary.BigEndian.Uint16(head[16:])); n >= 512 && n&(n-1) == 0 {
			f.size = n
		}
	}
	pages := (bytes + int64(f.size) - 1) / int64(f.size)
	if pages > 1<<31 {
		return nil, errors.New("the file is too large to be a database")
	}
	f.Count, f.usable = uint32(pages), f.size
	// The header's word for it may be damaged as well as any other, so pages are asked.
	for n := uint32(1); n <= f.Count && n <= 1000 && !f.Checksums; n++ {
		p := f.read(n)
		f.Checksums = p != nil && sumGood(p)
	}
	if f.Checksums {
		f.usable -= 8
	}
	f.readLog(log)
	return f, nil
}

// read returns a page of the file as it is; nil if it can't be read or holds nothing
// but zeros, of which the sum is zero too.
func (f *File) read(n uint32) []byte {
	p := make([]byte, f.size)
	if _, err := f.r.ReadAt(p, int64(n-1)*int64(f.size)); err != nil {
		return nil
	}
	for _, b := range p {
		if b != 0 {
			return p
		}
	}
	return nil
}

// sumGood holds the checksum at a page's end against the page.
func sumGood(p []byte) bool {
	var s1, s2 uint32
	end := len(p) - 8
	for i := 0; i < end; i += 8 {
		s1 += binary.LittleEndian.Uint32(p[i:]) + s2
		s2 += binary.LittleEndian.Uint32(p[i+4:]) + s1
	}
	return s1 == binary.LittleEndian.Uint32(p[end:]) && s2 == binary.LittleEndian.Uint32(p[end+4:])
}

// page returns the page's usable bytes; nil if it is damaged or there is none.
func (f *File) page(n uint32) []byte {
	if n == 0 || n > f.Count {
		return nil
	}
	if p, ok := f.log[n]; ok {
		return p[:f.usable]
	}
	p := f.read(n)
	if p == nil || f.Checksums && !sumGood(p) {
		return nil
	}
	return p[:f.usable]
}

// readLog takes from a write-ahead log the newest whole copy of each page, up to the
// last transaction that ended. Each frame's sum goes on from the one that stands in the
// frame before, so a damaged frame spoils no other.
func (f *File) readLog(log []byte) {
	const head, frameHead = 32, 24
	f.log = map[uint32][]byte{}
	if len(log) < head+frameHead+f.size {
		return
	}
	var order binary.ByteOrder = binary.LittleEndian
	if log[3]&1 == 1 {
		order = binary.BigEndian
	}
	frames := (len(log) - head) / (frameHead + f.size)
	if int(binary.BigEndian.Uint32(log[8:])) != f.size || !logSumGood(order, make([]byte, 8), log[:24], nil, log[24:]) {
		f.LogLost = frames
		return
	}
	most := f.Count + uint32(frames)
	salts, before := string(log[16:24]), log[24:32]
	waiting := map[uint32][]byte{} // until its transaction ends
	lost := 0
	for rest := log[head:]; len(rest) >= frameHead+f.size; rest = rest[frameHead+f.size:] {
		frame, p := rest[:frameHead], rest[frameHead:frameHead+f.size]
		n := binary.BigEndian.Uint32(frame)
		if string(frame[8:16]) != salts || !logSumGood(order, before, frame[:8], p, frame[16:]) || n == 0 || n > most {
			lost++ // or left over from before, if no whole one follows
			before = frame[16:24]
			continue
		}
		before = frame[16:24]
		waiting[n] = p
		if binary.BigEndian.Uint32(frame[4:]) == 0 {
			continue
		}
		for n, p := range waiting {
			f.log[n] = p
			f.Count = max(f.Count, n)
		}
		clear(waiting)
		f.LogLost, lost = f.LogLost+lost, 0
	}
}

// logSumGood holds the sum that stands in the log against that of two pieces of it. The
// sum goes on from before.
func logSumGood(order binary.ByteOrder, before, one, two, want []byte) bool {
	s1, s2 := binary.BigEndian.Uint32(before), binary.BigEndian.Uint32(before[4:])
	for _, part := range [][]byte{one, two} {
		for i := 0; i < len(part); i += 8 {
			s1 += order.Uint32(part[i:]) + s2
			s2 += order.Uint32(part[i+4:]) + s1
		}
	}
	return s1 == binary.BigEndian.Uint32(want) && s2 == binary.BigEndian.Uint32(want[4:])
}
