package book

import (
	"context"
	"encoding/binary"
	"path/filepath"
	"testing"
	"time"
)

// withSum gives a page the checksum that SQLite's checksum VFS would, so that what was
// changed in it is believed.
func withSum(page []byte) {
	var s1, s2 uint32
	end := len(page) - 8
	for i := 0; i < end; i += 8 {
		s1 += binary.LittleEndian.Uint32(page[i:]) + s2
		s2 += binary.LittleEndian.Uint32(page[i+4:]) + s1
	}
	binary.LittleEndian.PutUint32(page[end:], s1)
	binary.LittleEndian.PutUint32(page[end+4:], s2)
}

// FuzzOpenBook changes bytes of a book, the checksums of their pages with them or not,
// and cuts it short. Whatever comes of it, the book is opened or refused, checked, read
// by all that reads, and salvaged: nothing panics, and nothing goes on without end. Each
// four bytes of changes are a place and what is turned there.
func FuzzOpenBook(f *testing.F) {
	f.Add([]byte{}, false, uint32(0))
	f.Add([]byte{0, 16, 7, 255, 0, 32, 3, 1}, true, uint32(0))
	f.Add([]byte{0, 0, 100, 8, 1, 64, 40, 4}, false, uint32(9000))
	for page := byte(0); page < 40; page += 5 { // the head of each page's tree, where a fault misleads most
		f.Add([]byte{page >> 4, page << 4, 3, 1, page >> 4, page << 4, 8, 255}, true, uint32(0))
	}
	whole := readFile(f, bookOfLayout(len(migrations())))
	f.Fuzz(func(t *testing.T, changes []byte, believed bool, cut uint32) {
		data := append([]byte(nil), whole...)
		for ; len(changes) >= 4; changes = changes[4:] {
			at := int(binary.BigEndian.Uint32(changes)>>8) % len(data)
			data[at] ^= changes[3]
			if believed {
				withSum(data[at/pageSize*pageSize:][:pageSize])
			}
		}
		data = data[:len(data)-int(cut)%len(data)]
		path := filepath.Join(t.TempDir(), "book.db")
		writeFile(t, path, string(data))
		ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
		defer cancel()
		for _, o := range []Options{{ReadOnly: true}, {}} {
			if b, err := Open(ctx, path, o); err == nil {
				readAll(ctx, b)
				_ = b.Close() // what is damaged may not let go cleanly
			}
		}
		if r, err := Salvage(ctx, path, path+".saved"); err == nil {
			sound(t, open(t, r.To, Options{}))
		}
		if err := ctx.Err(); err != nil {
			t.Error(err)
		}
	})
}

// readAll asks a book all that can be asked; what it answers doesn't matter here.
func readAll(ctx context.Context, b *Book) {
	_, _ = b.Check(ctx)
	_, _, _ = b.CurrentClock(ctx)
	clocks, _ := b.Clocks(ctx)
	for _, c := range clocks {
		_, _ = b.Record(ctx, c.ID)
		some, _ := b.Sessions(ctx, c.ID)
		for _, s := range some {
			_, _ = b.Session(ctx, s.ID)
			_, _ = b.Faults(ctx, s.ID)
			_, _ = b.References(ctx, s.ID)
			_, _ = b.HostReadings(ctx, s.ID)
			_, _ = b.BeatCount(ctx, s.ID)
			for _, err := range b.Beats(ctx, s.ID) {
				if err != nil {
					break
				}
			}
		}
	}
}
