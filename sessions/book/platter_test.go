package book

import (
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/ncruces/go-sqlite3/vfs"
)

// disk stands between SQLite and the system's files. It can be full, its power can be cut,
// and it knows what that would leave: what was synced, and of the rest any part in any
// order. Names in the folder are such a rest too, until the folder is synced.
type disk struct {
	vfs.VFSFilename
	name  string              // by which SQLite finds it
	seen  map[string]*platter // what the folder holds for those that ask
	kept  map[string]*platter // what it holds on the disk
	named []naming            // not yet there
	tally string              // the book's, beside it
	full  error               // of every write, if not nil
	// cutAt counts down to the power cut, by what is done to files; off is called then.
	// After it nothing works any more.
	cutAt int
	off   func()
	// forgetful disks, which no real one is, never sync what they should: the folder.
	forgetful bool
}

// naming is a name that was given to a file, or taken (nil).
type naming struct {
	name string
	file *platter
}

// platter is a file as the disk has it, and what is written but not synced.
type platter struct {
	synced  []byte
	pending []write
}

// write is one not yet synced: bytes at an offset, or a new length (data nil).
type write struct {
	at   int64
	data []byte
}

// cutSector is the piece of a file that a disk writes whole or not at all.
const cutSector = 512

var errPowerCut = errors.New("the power is cut")

// newDisk is one that holds the files of a folder.
func newDisk(t *testing.T, folder string) *disk {
	t.Helper()
	d := &disk{VFSFilename: vfs.Find("").(vfs.VFSFilename), seen: map[string]*platter{}}
	for _, name := range files(t, folder) {
		if strings.HasSuffix(name, "-shm") || strings.HasSuffix(name, tallySuffix) {
			continue // shared memory, which nobody syncs, and what SQLite doesn't know
		}
		path := filepath.Join(folder, name)
		whole, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		d.seen[path] = &platter{synced: whole}
	}
	d.kept, d.tally = maps.Clone(d.seen), filepath.Join(folder, "book.db"+tallySuffix)
	d.name = fmt.Sprintf("%s %p", t.Name(), d)
	vfs.Register(d.name, d)
	t.Cleanup(func() { vfs.Unregister(d.name) })
	return d
}

func (d *disk) OpenFilename(name *vfs.Filename, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	if err := d.does(); err != nil {
		return nil, flags, err
	}
	if name == nil {
		return d.VFSFilename.OpenFilename(name, flags)
	}
	path := name.String()
	isNew := !exists(path)
	f, flags, err := d.VFSFilename.OpenFilename(name, flags)
	if err != nil {
		return nil, flags, err
	}
	p := d.seen[path]
	if isNew {
		p = &platter{}
		d.seen[path], d.named = p, append(d.named, naming{path, p})
	}
	log := flags&(vfs.OPEN_MAIN_JOURNAL|vfs.OPEN_SUPER_JOURNAL|vfs.OPEN_WAL) != 0
	return &diskFile{File: f, d: d, p: p, syncsFolder: log && flags&vfs.OPEN_CREATE != 0}, flags, nil
}

func (d *disk) Delete(path string, syncFolder bool) error {
	if err := d.does(); err != nil {
		return err
	}
	if err := d.VFSFilename.Delete(path, syncFolder); err != nil {
		return err
	}
	delete(d.seen, path)
	d.named = append(d.named, naming{path, nil})
	if syncFolder {
		d.syncFolder()
	}
	return nil
}

func (d *disk) syncFolder() {
	if d.forgetful {
		return
	}
	for _, n := range d.named {
		n.on(d.kept)
	}
	d.named = nil
}

func (n naming) on(folder map[string]*platter) {
	if n.file == nil {
		delete(folder, n.name)
		return
	}
	folder[n.name] = n.file
}

// does is called before whatever changes a file. An error says that it can't be done.
func (d *disk) does() error {
	if d.off == nil {
		return d.full
	}
	if d.cutAt--; d.cutAt == 0 {
		d.off()
	}
	if d.cutAt <= 0 {
		return errPowerCut
	}
	return d.full
}

type diskFile struct {
	vfs.File
	d *disk
	p *platter
	// syncsFolder: the driver syncs the folder with the first sync of a log.
	syncsFolder bool
}

func (f *diskFile) SharedMemory() vfs.SharedMemory {
	return f.File.(vfs.FileSharedMemory).SharedMemory()
}

func (f *diskFile) WriteAt(b []byte, at int64) (int, error) {
	if err := f.d.does(); err != nil {
		return 0, err
	}
	f.p.pending = append(f.p.pending, write{at, slices.Clone(b)})
	return f.File.WriteAt(b, at)
}

func (f *diskFile) Truncate(size int64) error {
	if err := f.d.does(); err != nil {
		return err
	}
	f.p.pending = append(f.p.pending, write{at: size})
	return f.File.Truncate(size)
}

// Sync is two moments: the file's, and then the folder's.
func (f *diskFile) Sync(flags vfs.SyncFlag) error {
	if err := f.d.does(); err != nil {
		return err
	}
	for _, w := range f.p.pending {
		f.p.synced = w.on(f.p.synced)
	}
	f.p.pending = nil
	if err := f.d.does(); err != nil {
		return err
	}
	if f.syncsFolder {
		f.syncsFolder = false
		f.d.syncFolder()
	}
	return nil // and not the real one: no real power is cut
}

func (w write) on(file []byte) []byte {
	if w.data == nil {
		return slices.Grow(file, int(max(0, w.at-int64(len(file)))))[:w.at]
	}
	if end := int(w.at) + len(w.data); end > len(file) {
		file = append(file, make([]byte, end-len(file))...)
	}
	copy(file[w.at:], w.data)
	return file
}

// cut writes what a power cut now leaves into dir.
func (d *disk) cut(t *testing.T, rng *rand.Rand, dir string) {
	t.Helper()
	if tally, err := os.ReadFile(d.tally); err == nil { // not SQLite's: it may be newer than all else
		writeFile(t, filepath.Join(dir, filepath.Base(d.tally)), string(tally))
	}
	folder := maps.Clone(d.kept)
	named := slices.Clone(d.named)
	rng.Shuffle(len(named), func(i, j int) { named[i], named[j] = named[j], named[i] })
	for _, n := range named[:rng.IntN(len(named)+1)] {
		n.on(folder)
	}
	for _, name := range slices.Sorted(maps.Keys(folder)) {
		writeFile(t, filepath.Join(dir, filepath.Base(name)), string(folder[name].left(rng)))
	}
}

// left is what a power cut leaves of a file: of what wasn't synced each write, or each
// sector of it, by chance, and whichever was last on top.
func (p *platter) left(rng *rand.Rand) []byte {
	var pieces []write
	for _, w := range p.pending {
		switch rng.IntN(3) {
		case 0: // whole
			pieces = append(pieces, w)
		case 1: // torn
			for at, end := w.at, w.at+int64(len(w.data)); at < end; {
				next := min(end, (at/cutSector+1)*cutSector)
				if rng.IntN(2) == 0 {
					pieces = append(pieces, write{at, w.data[at-w.at : next-w.at]})
				}
				at = next
			}
		}
	}
	rng.Shuffle(len(pieces), func(i, j int) { pieces[i], pieces[j] = pieces[j], pieces[i] })
	left := slices.Clone(p.synced)
	for _, w := range pieces {
		left = w.on(left)
	}
	return left
}
