package book

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
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

// logPages is how long the write-ahead log may grow before a write folds it into the
// file: 128 KiB. On a disk that is nearly full a long log would take the room
// without which it can't be folded in.
const logPages = 32

// Options say how to open a book.
type Options struct {
	// Create makes the book, and its folder, when there is none.
	Create bool
	// ReadOnly opens it for reading alone; Create then does nothing.
	ReadOnly bool
	// Reading promises that nothing is added. The book is opened ReadOnly if it may not
	// be written where it lies. If it can't be read there either, because its layout is
	// older or its log has no index, a copy of it is read.
	Reading bool
	// DailyCopies is how many daily copies are kept beside the book. One is made as the
	// first session of a day begins, and Close waits for it. 0 makes none.
	DailyCopies int
	// Log hears of slow or unusual doings; the zero value is silent.
	Log zerolog.Logger
	// Now is the clock for what the caller gives no time of: edits and undos.
	// Nil means time.Now.
	Now func() time.Time
	// Photos gives photographs of the other book the names under which Merge has them here.
	Photos map[string]string

	// alone: no one else knows the file yet, so SQLite needs neither locks nor files
	// beside it.
	alone bool
	// asIs: whatever its layout is, it stays.
	asIs bool
	// at is where the file lies while nobody else knows of it; "" is its own place.
	at string
	// vfs names the way to the disk, where a test stands in it; "" is the system's.
	vfs string
}

// Book is an open book. It may be used from several goroutines at once, and by
// several programs.
type Book struct {
	path string
	at   string // of the file that is open, where that is a copy
	// scratch is a folder to remove, with the copy that is open, at the end.
	scratch string
	file    openFile
	turn    chan struct{} // holds whoever writes, of all in this program
	// still: SQLite was told that nobody writes to the file.
	still   bool
	db      *sql.DB
	log     zerolog.Logger
	now     func() time.Time
	daily   int            // copies to keep
	copying sync.WaitGroup // of the book, while a session records
	// accepted turns true once the file is known to be a book of this layout, with all
	// that was acknowledged in it. Until then a closing connection leaves the
	// write-ahead log be.
	accepted atomic.Bool
	readOnly bool
	lost     []string // what was acknowledged and isn't there
}

// turns holds, by the book's path, what those take turns by who write in this program.
// SQLite would have them sleep and try again, for longer and longer.
var turns sync.Map

// Path returns the file's name, absolute and without links.
func (b *Book) Path() string { return b.path }

// Open opens the book at path, making or migrating it where o allows. The error is
// an *[Error], if it isn't ctx's; a file that fails to open has not been changed.
func Open(ctx context.Context, path string, o Options) (*Book, error) {
	abs, err := realName(path)
	if err != nil {
		return nil, fail(path, "opening", err)
	}
	b, err := openAs(ctx, abs, o)
	if o.Reading && isReadOnly(err) {
		return openUnwritable(ctx, abs, o)
	}
	return b, err
}

func openAs(ctx context.Context, abs string, o Options) (*Book, error) {
	file := cmp.Or(o.at, abs)
	h, err := readHeader(file)
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
	var told []tallied
	if !o.alone {
		told = readTally(abs) // first: whoever writes meanwhile may only add to what it tells
	}
	b, err := connect(abs, o, h.file)
	if err != nil {
		return nil, err
	}
	b.findLost(ctx, told)
	if err := b.ready(ctx, o); err != nil {
		if e := b.db.Close(); e != nil {
			o.Log.Warn().Err(e).Str("book", abs).Msg("refused book not closed cleanly")
		}
		return nil, err
	}
	return b, nil
}

// realName makes a name absolute, and follows the links in it: what lies beside a book
// lies beside the file, not beside a link to it.
func realName(path string) (string, error) {
	abs, err := filepath.Abs(path)
	if full, lerr := filepath.EvalSymlinks(abs); lerr == nil {
		abs = full
	}
	return abs, err
}

// Close closes the book. The error is of KindBusy if another program wrote to a book
// that was read in the belief that nobody could.
func (b *Book) Close() error {
	b.copying.Wait()
	err := fail(b.path, "closing", errors.Join(b.db.Close(), b.dropTally()))
	if b.still && err == nil {
		err = b.wasStill()
	}
	if b.scratch != "" {
		err = errors.Join(err, os.RemoveAll(b.scratch))
	}
	return err
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
func connect(path string, o Options, id fs.FileInfo) (*Book, error) {
	q := "_pragma=busy_timeout(" + strconv.Itoa(busyTimeout) + ")&_pragma=foreign_keys(1)&_pragma=trusted_schema(0)&_pragma=cache_size(-256)"
	file := cmp.Or(o.at, path)
	still := o.ReadOnly && (o.alone || unheld(file))
	if o.ReadOnly {
		q = "mode=ro&" + q
		if still {
			// SQLite would want to make its files beside the book, and leave them there.
			q = "immutable=1&" + q
		}
	} else {
		q = "mode=rw&_txlock=immediate&" + q + "&_pragma=synchronous(full)&_pragma=wal_autocheckpoint(" + strconv.Itoa(logPages) + ")"
	}
	if o.vfs != "" {
		q = "vfs=" + o.vfs + "&" + q
	}
	turn, _ := turns.LoadOrStore(path, make(chan struct{}, 1))
	b := &Book{path: path, turn: turn.(chan struct{}), at: o.at, file: openFile{id: id}, still: still && !o.alone, daily: o.DailyCopies, log: o.Log, now: o.Now, readOnly: o.ReadOnly}
	if b.now == nil {
		b.now = time.Now
	}
	var err error
	b.db, err = driver.Open(uri(file, q), func(c *sqlite3.Conn) error {
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
func (b *Book) ready(ctx context.Context, o Options) error {
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
	if version < len(migrations()) && !o.asIs {
		if o.ReadOnly {
			return &Error{Path: b.path, Kind: KindReadOnly,
				What:   fmt.Sprintf("book %s has the older layout %d, and may not be brought to %d", b.path, version, len(migrations())),
				Remedy: "open it once with write access"}
		}
		if err := b.renew(ctx, conn, version); err != nil {
			return err
		}
	}
	if len(b.lost) > 0 {
		return nil // salvage may find more in the log than SQLite does
	}
	b.accepted.Store(true)
	if o.ReadOnly {
		return nil
	}
	if b.at == "" {
		if err := b.inPlace("opening"); err != nil {
			return err
		}
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
