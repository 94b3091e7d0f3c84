package book

import (
	"context"
	"database/sql"
	_ "embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"

	"github.com/ncruces/go-sqlite3/driver"
)

//go:embed migrations/0001_book.sql
var migration0001 string

//go:embed migrations/0002_reference.sql
var migration0002 string

//go:embed migrations/0003_pulse.sql
var migration0003 string

//go:embed migrations/0004_kind.sql
var migration0004 string

//go:embed migrations/0005_checksums.sql
var migration0005 string

//go:embed migrations/0006_withdrawals.sql
var migration0006 string

//go:embed migrations/0007_host.sql
var migration0007 string

//go:embed migrations/0008_particulars.sql
var migration0008 string

//go:embed migrations/0009_air.sql
var migration0009 string

// migrations are the steps from one layout to the next: user_version counts those
// done. A released one is never edited.
func migrations() []string {
	return []string{migration0001, migration0002, migration0003, migration0004, migration0005, migration0006, migration0007, migration0008, migration0009}
}

// checksummed is the first layout whose pages carry checksums.
const checksummed = 5

// migrate does the steps up to a layout that are missing, each in a transaction that
// looks at the version again: another program may have been faster. Checksums come first,
// because a book that calls itself checksummed is refused if its pages carry none.
func migrate(ctx context.Context, conn *sql.Conn, path string, layout int) error {
	err := conn.Raw(func(c any) error { return c.(driver.Conn).Raw().EnableChecksums("main") })
	if err != nil {
		return fail(path, "giving its pages checksums", err)
	}
	for step := range layout {
		if err := migrateStep(ctx, conn, step); err != nil {
			return fail(path, fmt.Sprintf("bringing it to layout %d", step+1), err)
		}
	}
	return nil
}

// renew brings the book to the newest layout. A copy of it as it was is kept beside it,
// but for a file that is a copy itself.
func (b *Book) renew(ctx context.Context, conn *sql.Conn, from int) error {
	if b.at != "" {
		return migrate(ctx, conn, b.path, len(migrations()))
	}
	kept, err := b.keepLayout(ctx, conn, from)
	if err != nil {
		return fail(b.path, "keeping a copy before its layout is changed", err)
	}
	if err := migrate(ctx, conn, b.path, len(migrations())); err != nil {
		return err
	}
	b.log.Warn().Str("book", b.path).Int("from", from).Int("to", len(migrations())).Str("copy", kept).
		Msg("the book was brought to the newest layout, and a copy of it as it was is kept beside it")
	return nil
}

// keepLayout copies the book, as it is before its layout is changed, to the first
// free name beside it such as book.db.layout-4, and book.db.layout-4-2.
func (b *Book) keepLayout(ctx context.Context, conn *sql.Conn, layout int) (kept string, err error) {
	kept = fmt.Sprintf("%s.layout-%d", b.path, layout)
	for n := 2; exists(kept); n++ {
		kept = fmt.Sprintf("%s.layout-%d-%d", b.path, layout, n)
	}
	tmp, err := tempName(kept)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, remove(tmp)) }()
	if err := conn.Raw(func(c any) error { return copyPages(ctx, c.(driver.Conn).Raw(), tmp) }); err != nil {
		return "", err
	}
	if err := place(tmp, kept); err != nil && !errors.Is(err, fs.ErrExist) {
		return "", err
	}
	return kept, syncFolder(filepath.Dir(kept))
}

func migrateStep(ctx context.Context, conn *sql.Conn, step int) error {
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // does nothing once committed
	var version int
	if err := tx.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err != nil {
		return err
	}
	if version > step {
		return nil
	}
	if _, err := tx.ExecContext(ctx, migrations()[step]); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA user_version = %d", step+1)); err != nil {
		return err
	}
	return tx.Commit()
}

// create makes a book whole under another name and then gives it its own, so that
// no one ever meets half a book. If another program makes one meanwhile, theirs
// is the book.
func create(ctx context.Context, path string) (err error) {
	dir := filepath.Dir(path)
	var parents []string // of the folders that are made
	for d := dir; !exists(d); d = filepath.Dir(d) {
		parents = append(parents, filepath.Dir(d))
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fail(path, "making its folder", err)
	}
	for _, p := range parents {
		if err := syncFolder(p); err != nil {
			return fail(path, "making its folder", err)
		}
	}
	tmp, err := tempName(path)
	if err != nil {
		return fail(path, "making it", err)
	}
	defer func() {
		err = errors.Join(err, remove(tmp), remove(tmp+"-wal"), remove(tmp+"-shm"), remove(tmp+"-journal"))
	}()
	if err := errors.Join(fill(ctx, tmp, len(migrations())), remove(path+tallySuffix)); err != nil { // an older book's tally
		return fail(path, "making it", err)
	}
	if err := place(tmp, path); err != nil && !errors.Is(err, fs.ErrExist) {
		return fail(path, "making it", err)
	}
	return fail(path, "making it", syncFolder(dir))
}

// tempName reserves a name beside path by making the file, empty.
func tempName(path string) (string, error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".new-*")
	if err != nil {
		return "", err
	}
	return f.Name(), f.Close()
}

// fill writes the empty book of a layout into the empty file at path.
func fill(ctx context.Context, path string, layout int) (err error) {
	q := fmt.Sprintf("mode=rw&_txlock=immediate&_pragma=busy_timeout(%d)&_pragma=journal_mode(wal)&_pragma=synchronous(full)&_pragma=application_id(%d)", busyTimeout, ApplicationID)
	db, err := driver.Open(uri(path, q))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if err := migrate(ctx, conn, path, layout); err != nil {
		return err
	}
	// Closing would do this too, but keep it to itself if the disk is full, and the
	// log goes with the temporary name.
	var blocked, frames, copied int
	err = conn.QueryRowContext(ctx, "PRAGMA wal_checkpoint(truncate)").Scan(&blocked, &frames, &copied)
	if err == nil && blocked != 0 {
		err = errors.New("its log could not be folded into it")
	}
	return err
}

// place gives the file at tmp the name path, never replacing what is there. The
// bytes are on the disk before the name is.
func place(tmp, path string) error {
	if err := syncFile(tmp); err != nil {
		return err
	}
	err := os.Link(tmp, path)
	if err == nil || errors.Is(err, fs.ErrExist) {
		return err
	}
	// A file system without hard links: look, then rename.
	if exists(path) {
		return fs.ErrExist
	}
	return os.Rename(tmp, path)
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// syncFolder makes a name that was given or taken in the folder durable. Windows
// has no such call, and does without.
func syncFolder(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

func remove(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}
