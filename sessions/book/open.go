package book

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/driver"
	"github.com/rs/zerolog"
)

// ApplicationID marks a file as a book: "EVBT" in SQLite's application_id.
const ApplicationID = 0x45564254

// busyTimeout is how long a call waits for another program's write, in
// milliseconds. Writes take milliseconds; a program that holds the book for
// longer is stuck, and the bench should hear of it.
const busyTimeout = 5000

const maxConns = 4

// Options say how to open a book.
type Options struct {
	// Create makes the book, and its folder, when there is none.
	Create bool
	// ReadOnly opens it for reading alone; Create then does nothing.
	ReadOnly bool
	// Log hears of slow or unusual doings; the zero value is silent.
	Log zerolog.Logger
	// Now is the clock for what the caller gives no time of: edits and undos.
	// Nil means time.Now.
	Now func() time.Time

	// alone: no one else knows the file yet, so SQLite needs neither locks nor files
	// beside it.
	alone bool
	// vfs names the way to the disk, where a test stands in it; "" is the system's.
	vfs string
}

// Book is an open book. It may be used from several goroutines at once, and by
// several programs.
type Book struct {
	path string
	file openFile
	db   *sql.DB
	log  zerolog.Logger
	now  func() time.Time
	// accepted turns true once the file is known to be a book of this layout, with all
	// that was acknowledged in it. Until then a closing connection leaves the
	// write-ahead log be.
	accepted atomic.Bool
	readOnly bool
	lost     []string // what was acknowledged and isn't there
}

// Path returns the file's name, made absolute.
func (b *Book) Path() string { return b.path }

// Open opens the book at path, making or migrating it where o allows. The error is
// an *[Error], if it isn't ctx's; a file that fails to open has not been changed.
func Open(ctx context.Context, path string, o Options) (*Book, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fail(path, "opening", err)
	}
	h, err := readHeader(abs)
	if missing := errors.Is(err, fs.ErrNotExist); missing && o.Create && !o.ReadOnly {
		if !empty(abs+"-wal") && !exists(abs) { // asked anew: another program may have made both meanwhile
			return nil, &Error{Path: abs, Kind: KindDamaged, What: "book " + abs + ": no such file, but its log " + abs + "-wal is there",
				Remedy: "put the book back beside its log, or move the log away to start anew", Err: err}
		}
		if err := create(ctx, abs); err != nil {
			return nil, err
		}
		h, err = readHeader(abs)
	} else if missing {
		return nil, &Error{Path: abs, Kind: KindMissing, What: "book " + abs + ": no such file",
			Remedy: "add a clock to start a book, or name another with --book", Err: err}
	}
	if err != nil {
		return nil, fail(abs, "opening", err)
	}
	if err := h.check(abs); err != nil {
		return nil, err
	}
	told := readTally(abs) // first: whoever writes meanwhile may only add to what it tells
	b, err := connect(abs, o, h.file)
	if err != nil {
		return nil, err
	}
	b.findLost(ctx, told)
	if err := b.ready(ctx, o.ReadOnly); err != nil {
		if e := b.db.Close(); e != nil {
			o.Log.Warn().Err(e).Str("book", abs).Msg("refused book not closed cleanly")
		}
		return nil, err
	}
	return b, nil
}

// Close closes the book.
func (b *Book) Close() error {
	return fail(b.path, "closing", errors.Join(b.db.Close(), b.dropTally()))
}

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

func checkVersion(path string, version int) error {
	if version <= len(migrations()) {
		return nil
	}
	return &Error{Path: path, Kind: KindNewer,
		What:   fmt.Sprintf("book %s is from a newer version: its layout is %d, this program knows up to %d", path, version, len(migrations())),
		Remedy: "use the newer program; the book was not touched"}
}

// uri names a file for SQLite, whatever characters are in its name. More is
// added to the query as given; a VFS named there comes before the usual one.
func uri(path, query string) string {
	if !strings.Contains(query, "vfs=") {
		query += "&vfs=" + unmappedVFS()
	}
	// C:/… stands without a slash before it, and //server/… with an empty host, as it
	// would be taken for one itself.
	path = filepath.ToSlash(path)
	u := url.URL{Scheme: "file", OmitHost: !strings.HasPrefix(path, "//"), Path: path, RawQuery: query}
	return u.String()
}

// connect opens the pool. Pragmas are in the name, so that each connection has
// them; busy_timeout stands first, since giving any switches off the driver's own.
func connect(path string, o Options, file fs.FileInfo) (*Book, error) {
	q := "_pragma=busy_timeout(" + strconv.Itoa(busyTimeout) + ")&_pragma=foreign_keys(1)&_pragma=trusted_schema(0)&_pragma=cache_size(-256)"
	if o.ReadOnly {
		q = "mode=ro&" + q
		if o.alone || folderReadOnly(path) && empty(path+"-wal") {
			// SQLite can't make the shared memory a WAL book wants; without a -wal
			// beside it the file is all there is.
			q = "immutable=1&" + q
		}
	} else {
		q = "mode=rw&_txlock=immediate&" + q + "&_pragma=synchronous(full)"
	}
	if o.vfs != "" {
		q = "vfs=" + o.vfs + "&" + q
	}
	b := &Book{path: path, file: openFile{id: file}, log: o.Log, now: o.Now, readOnly: o.ReadOnly}
	if b.now == nil {
		b.now = time.Now
	}
	var err error
	b.db, err = driver.Open(uri(path, q), func(c *sqlite3.Conn) error {
		if b.accepted.Load() {
			return nil
		}
		_, err := c.Config(sqlite3.DBCONFIG_NO_CKPT_ON_CLOSE, true)
		return err
	})
	if err != nil {
		return nil, fail(path, "opening", err)
	}
	// Writers queue for the file anyway; this many can read meanwhile, and a caller
	// that walks through beats can ask other things between.
	b.db.SetMaxOpenConns(maxConns)
	b.db.SetMaxIdleConns(maxConns)
	return b, nil
}

// ready migrates where needed and lets the connection in hand tidy up at its end.
func (b *Book) ready(ctx context.Context, readOnly bool) error {
	conn, err := b.db.Conn(ctx)
	if err != nil {
		return fail(b.path, "opening", err)
	}
	defer conn.Close()
	var version int
	err = conn.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version)
	if err != nil {
		return fail(b.path, "opening", err)
	}
	if err := checkVersion(b.path, version); err != nil {
		return err
	}
	if version < len(migrations()) {
		if readOnly {
			return &Error{Path: b.path, Kind: KindReadOnly,
				What:   fmt.Sprintf("book %s has the older layout %d, and may not be brought to %d", b.path, version, len(migrations())),
				Remedy: "open it once with write access"}
		}
		kept, err := b.keepLayout(ctx, conn, version)
		if err != nil {
			return fail(b.path, "keeping a copy before its layout is changed", err)
		}
		if err := migrate(ctx, conn, b.path); err != nil {
			return err
		}
		b.log.Warn().Str("book", b.path).Int("from", version).Int("to", len(migrations())).Str("copy", kept).
			Msg("the book was brought to the newest layout, and a copy of it as it was is kept beside it")
	}
	if len(b.lost) > 0 {
		return nil // salvage may find more in the log than SQLite does
	}
	b.accepted.Store(true)
	if readOnly {
		return nil
	}
	if err := b.inPlace("opening"); err != nil {
		return err
	}
	return conn.Raw(func(c any) error {
		_, err := c.(driver.Conn).Raw().Config(sqlite3.DBCONFIG_NO_CKPT_ON_CLOSE, false)
		return err
	})
}

// empty: a log that is there but holds nothing is what a reader leaves.
func empty(path string) bool {
	st, err := os.Lstat(path)
	return err != nil || st.Size() == 0
}

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}
