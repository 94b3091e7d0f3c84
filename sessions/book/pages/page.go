package pages

import "encoding/binary"

// Kind is the kind of a page of a b-tree, as its first byte tells it.
type Kind byte

// The kinds of pages.
const (
	IndexInner Kind = 2
	TableInner Kind = 5
	IndexLeaf  Kind = 10
	TableLeaf  Kind = 13
)

// Page is a page of a b-tree, with its structure found sound.
type Page struct {
	Kind  Kind
	Cells []Cell
	// Children are the pages beneath an inner page, the rightmost one last.
	Children []uint32
}

// Cell is a row of a table or an entry of an index; inner pages of tables have none.
type Cell struct {
	RowID int64 // of a table's row
	size  uint64
	local []byte
	More  uint32 // page on which the payload goes on; 0 if it doesn't
}

// Page returns page n, and whether it can be believed and belongs to a b-tree.
func (f *File) Page(n uint32) (*Page, bool) {
	data := f.page(n)
	at := 0
	if n == 1 {
		at = 100 // after the file's header
	}
	if data == nil || len(data) < at+12 {
		return nil, false
	}
	p := &Page{Kind: Kind(data[at])}
	head := 8
	switch p.Kind {
	case IndexInner, TableInner:
		head = 12
	case IndexLeaf, TableLeaf:
	default:
		return nil, false
	}
	cells := int(binary.BigEndian.Uint16(data[at+3:]))
	first := at + head + 2*cells // byte after the pointers to the cells
	if first > len(data) {
		return nil, false
	}
	for i := range cells {
		from := int(binary.BigEndian.Uint16(data[at+head+2*i:]))
		if from < first || from >= len(data) || !p.add(f, data[from:]) {
			return nil, false
		}
	}
	if head == 12 {
		p.Children = append(p.Children, binary.BigEndian.Uint32(data[at+8:]))
	}
	return p, true
}

// add reads the cell that begins data, and reports whether it is sound.
func (p *Page) add(f *File, data []byte) bool {
	if p.Kind == IndexInner || p.Kind == TableInner {
		if len(data) < 4 {
			return false
		}
		p.Children = append(p.Children, binary.BigEndian.Uint32(data))
		data = data[4:]
	}
	if p.Kind == TableInner {
		_, n := uvarint(data)
		return n > 0
	}
	var c Cell
	var n int
	if c.size, n = uvarint(data); n == 0 || c.size > uint64(f.Count)*uint64(f.usable) {
		return false
	}
	data = data[n:]
	if p.Kind == TableLeaf {
		id, n := uvarint(data)
		if n == 0 {
			return false
		}
		c.RowID, data = int64(id), data[n:]
		if last := len(p.Cells) - 1; last >= 0 && p.Cells[last].RowID >= c.RowID {
			return false // rows stand in the order of their numbers
		}
	}
	local, whole := f.local(p.Kind, c.size)
	if !whole {
		if len(data) < local+4 {
			return false
		}
		c.More = binary.BigEndian.Uint32(data[local:])
	} else if len(data) < local {
		return false
	}
	c.local = data[:local:local]
	p.Cells = append(p.Cells, c)
	return true
}

// local is how many bytes of a payload lie on the page itself, and whether that is all
// (section 1.6 of the file format).
func (f *File) local(kind Kind, size uint64) (int, bool) {
	most := (f.usable-12)*64/255 - 23
	if kind == TableLeaf {
		most = f.usable - 35
	}
	if size <= uint64(most) {
		return int(size), true
	}
	least := (f.usable-12)*32/255 - 23
	k := least + int((size-uint64(least))%uint64(f.usable-4))
	if k <= most {
		return k, false
	}
	return least, false
}

// Payload returns all of a cell's payload, and whether it is whole: each page on which
// it goes on can be read, and the last one is where the last byte is.
func (f *File) Payload(c Cell) ([]byte, bool) {
	all, next := c.local, c.More
	for uint64(len(all)) < c.size {
		p := f.page(next)
		if p == nil {
			return nil, false
		}
		next = binary.BigEndian.Uint32(p)
		all = append(all, p[4:min(uint64(len(p)), 4+c.size-uint64(len(all)))]...)
	}
	return all, next == 0
}

// Walk visits every page of the b-tree under root, of a table or, where inner is
// IndexInner, of an index. A page that can't be believed is nil. Walk reports whether
// there was none such.
func (f *File) Walk(root uint32, inner Kind, visit func(n uint32, p *Page)) bool {
	return f.walk(root, inner, map[uint32]bool{}, visit)
}

func (f *File) walk(n uint32, inner Kind, seen map[uint32]bool, visit func(uint32, *Page)) bool {
	if seen[n] {
		return false // damage, since no page has two places; it was visited in the other
	}
	seen[n] = true
	p, ok := f.Page(n)
	if !ok || p.Kind != inner && p.Kind != inner+IndexLeaf-IndexInner {
		visit(n, nil)
		return false
	}
	visit(n, p)
	whole := true
	for _, child := range p.Children {
		whole = f.walk(child, inner, seen, visit) && whole
	}
	return whole
}

// uvarint reads SQLite's variable-length integer and returns its length; 0 if it is
// cut short.
func uvarint(b []byte) (v uint64, n int) {
	for i, x := range b {
		if i == 8 {
			return v<<8 | uint64(x), 9
		}
		v = v<<7 | uint64(x&0x7f)
		if x < 0x80 {
			return v, i + 1
		}
	}
	return 0, 0
}
