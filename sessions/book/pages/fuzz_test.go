package pages

import (
	"bytes"
	"os"
	"testing"
)

// FuzzPages reads whatever bytes as a database and its log: nothing panics or asks for
// more memory than the file is large, and every whole payload is as long as it says.
func FuzzPages(f *testing.F) {
	for _, name := range []string{"layout1.db", "layout6.db"} {
		data, err := os.ReadFile("../../../testdata/books/" + name)
		if err != nil {
			f.Fatal(err)
		}
		data = data[:min(len(data), 1<<16)]
		f.Add(data, uint16(0))
		f.Add(data, uint16(len(data)/2))
	}
	f.Fuzz(func(t *testing.T, data []byte, cut uint16) {
		log := data[len(data)-min(len(data), int(cut)):]
		file, err := Open(bytes.NewReader(data), int64(len(data)), log)
		if err != nil {
			return
		}
		for n := range min(file.Count, 64) + 1 {
			file.Walk(n, TableInner, func(uint32, *Page) {})
			p, ok := file.Page(n)
			if !ok {
				continue
			}
			for _, c := range p.Cells {
				c.Types()
				payload, whole := file.Payload(c)
				if whole && uint64(len(payload)) != c.size {
					t.Errorf("page %d: a payload of %d bytes says it has %d", n, len(payload), c.size)
				}
				if values, ok := Values(payload); ok && len(values) > len(payload) {
					t.Errorf("page %d: %d values in %d bytes", n, len(values), len(payload))
				}
			}
		}
	})
}
