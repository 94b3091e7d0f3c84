package book

import (
	"errors"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"testing"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/vfs"

	"evenbeat/sessions"
)

// disk stands between SQLite and the system's files. It can be full, and it knows
// what a power cut would leave: what was synced, and of the rest any part.
type disk struct {
	vfs.VFSFilename
	files map[string]*platter
	full  error // of every write, if not nil
	each  func()
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

// cutSector is the piece of a write that a disk writes whole or not at all.
const cutSector = 512

func newDisk(t *testing.T) *disk {
	t.Helper()
	d := &disk{VFSFilename: vfs.Find("").(vfs.VFSFilename), files: map[string]*platter{}}
	vfs.Register(t.Name(), d)
	t.Cleanup(func() { vfs.Unregister(t.Name()) })
	return d
}

func (d *disk) OpenFilename(name *vfs.Filename, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	f, flags, err := d.VFSFilename.OpenFilename(name, flags)
	if err != nil || name == nil {
		return f, flags, err
	}
	p := d.files[name.String()]
	if p == nil {
		p = &platter{}
		if p.synced, err = os.ReadFile(name.String()); err != nil {
			return nil, flags, errors.Join(err, f.Close())
		}
		d.files[name.String()] = p
	}
	return &diskFile{File: f, d: d, p: p}, flags, nil
}

type diskFile struct {
	vfs.File
	d *disk
	p *platter
}

func (f *diskFile) SharedMemory() vfs.SharedMemory {
	return f.File.(vfs.FileSharedMemory).SharedMemory()
}

func (f *diskFile) WriteAt(b []byte, at int64) (int, error) {
	if f.d.full != nil {
		return 0, f.d.full
	}
	f.p.pending = append(f.p.pending, write{at, slices.Clone(b)})
	n, err := f.File.WriteAt(b, at)
	f.d.tell()
	return n, err
}

func (f *diskFile) Truncate(size int64) error {
	f.p.pending = append(f.p.pending, write{at: size})
	return f.File.Truncate(size)
}

func (f *diskFile) Sync(flags vfs.SyncFlag) error {
	f.d.tell() // a cut just before, and one just after
	for _, w := range f.p.pending {
		f.p.synced = w.on(f.p.synced)
	}
	f.p.pending = nil
	err := f.File.Sync(flags)
	f.d.tell()
	return err
}

func (d *disk) tell() {
	if d.each != nil {
		d.each()
	}
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

// cut writes what a power cut now would leave into dir: of what wasn't synced, each
// sector by chance.
func (d *disk) cut(t *testing.T, rng *rand.Rand, dir string) {
	t.Helper()
	for _, name := range slices.Sorted(maps.Keys(d.files)) {
		p := d.files[name]
		left := slices.Clone(p.synced)
		for _, w := range p.pending {
			switch rng.IntN(3) {
			case 0: // whole
				left = w.on(left)
			case 1: // torn
				for n := 0; n < len(w.data); n += cutSector {
					if rng.IntN(2) == 0 {
						left = write{w.at + int64(n), w.data[n:min(n+cutSector, len(w.data))]}.on(left)
					}
				}
			}
		}
		writeFile(t, filepath.Join(dir, filepath.Base(name)), string(left))
	}
}

// cuts records readings and cuts the power every few writes; it returns how many
// cuts there were and how many readings were acknowledged and then missing.
func cuts(t *testing.T, synchronous string) (n, lost int) {
	t.Helper()
	d := newDisk(t)
	path := filepath.Join(t.TempDir(), "book.db")
	b := open(t, path, Options{Create: true, vfs: t.Name()})
	b.db.SetMaxOpenConns(1)
	if _, err := b.db.Exec("PRAGMA synchronous = " + synchronous + "; PRAGMA wal_autocheckpoint = 20"); err != nil {
		t.Fatal(err)
	}
	c := addClock(t, b, "Hall clock")
	acked, writes := 0, 0
	rng := rand.New(rand.NewPCG(1, 0)) // the seed is all one needs to see a failure again
	d.each = func() {
		if writes++; writes%7 != 0 || acked == 0 {
			return
		}
		n++
		after := filepath.Join(t.TempDir(), "book.db")
		d.cut(t, rng, filepath.Dir(after))
		got, err := Open(t.Context(), after, Options{})
		if err != nil {
			if synchronous == "full" {
				t.Fatalf("cut %d: %v", n, err)
			}
			lost += acked
			return
		}
		defer got.Close()
		r, err := got.Readings(t.Context(), c.ID)
		if err != nil && synchronous == "full" {
			t.Fatalf("cut %d: %v", n, err)
		}
		lost += max(0, acked-len(r))
		if synchronous == "full" {
			sound(t, got)
		}
	}
	for acked < 50 {
		_, err := b.AddReading(t.Context(), sessions.Reading{ClockID: c.ID, At: noon, Dimension: "bore", Kind: sessions.Inside, Value: 1, State: sessions.Kept, Text: "63.50mm"})
		if err != nil {
			t.Fatal(err)
		}
		acked++
	}
	d.each = nil
	return n, lost
}

// Power cut at any moment: nothing acknowledged is lost and the book is sound.
func TestPowerCut(t *testing.T) {
	if n, lost := cuts(t, "full"); n < 30 || lost != 0 {
		t.Errorf("%d cuts, %d readings lost, want 30 cuts or more and none lost", n, lost)
	}
}

// The same disk loses what isn't synced: the test above can fail.
func TestPowerCutCanLose(t *testing.T) {
	if n, lost := cuts(t, "off"); lost == 0 {
		t.Errorf("%d cuts without a sync lost nothing", n)
	}
}

// A full disk is told as one, nothing is half-written, and with room again the same
// open book goes on.
func TestDiskFull(t *testing.T) {
	d := newDisk(t)
	b := open(t, filepath.Join(t.TempDir(), "book.db"), Options{Create: true, vfs: t.Name()})
	c := addClock(t, b, "Hall clock")
	add := func() error {
		_, err := b.AddCheck(t.Context(), sessions.Check{ClockID: c.ID, At: noon})
		return err
	}
	if err := add(); err != nil {
		t.Fatal(err)
	}
	d.full = vfs.SystemError(syscall.ENOSPC, sqlite3.FULL)
	err := add()
	if want := "book " + b.path + ": recording a check: disk full: make room, then go on; nothing is half-written"; kindOf(err) != KindFull || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
	// An input/output error with room on the disk is not called a full one.
	d.full = syscall.EIO
	if err := add(); kindOf(err) != KindFailed {
		t.Errorf("broken disk: got %v", err)
	}
	d.full = nil
	if err := add(); err != nil {
		t.Errorf("with room again: %v", err)
	}
	sound(t, b)
	if r, err := b.Record(t.Context(), c.ID); err != nil || len(r.Checks) != 2 {
		t.Errorf("%d checks, %v; want 2", len(r.Checks), err)
	}
}
