package book

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// copyDaily makes the day's copy while a session records. One that fails is told of and
// ends nothing: what is being recorded is worth more.
func (b *Book) copyDaily(ctx context.Context) {
	if b.daily < 1 {
		return
	}
	b.copying.Go(func() {
		if err := b.copyToday(ctx, b.now()); err != nil {
			b.log.Warn().Err(err).Msg("no copy of the book was made today")
		}
	})
}

// copyToday copies the book to the folder of its daily copies, unless that was done on this
// day already: book.copies/2026-03-01.db for book.db. Then it removes the oldest. A copy is
// checked before it gets its name, so a damaged book takes the place of no sound copy.
func (b *Book) copyToday(ctx context.Context, now time.Time) error {
	today := filepath.Join(copiesFolder(b.path), now.Format(time.DateOnly)+".db")
	if exists(today) {
		return nil
	}
	if err := os.MkdirAll(filepath.Dir(today), 0o700); err != nil {
		return fail(today, "making its folder", err)
	}
	err := b.Backup(ctx, today)
	if e, ok := errors.AsType[*Error](err); ok && e.Kind == KindExists {
		return nil // another session began at the same time
	}
	if err != nil {
		return err
	}
	all, halves, err := dailyCopies(b.path)
	for _, old := range append(halves, all[:max(0, len(all)-b.daily)]...) {
		if !strings.Contains(old, filepath.Base(today)) { // which isn't the newest if the computer's clock was once ahead
			err = errors.Join(err, remove(old))
		}
	}
	return fail(b.path, "removing its oldest daily copies", err)
}

// CopiesOf returns the names of all copies of the book at path that were made by itself:
// by the day, before a change of its layout or a merge, and where another book took its place.
func CopiesOf(path string) ([]string, error) {
	all, _, err := dailyCopies(path)
	if err != nil {
		return nil, err
	}
	entries, err := listFolder(filepath.Dir(path))
	for _, e := range entries {
		for _, made := range []string{".layout-", ".replaced-", ".before-merge-"} {
			if strings.HasPrefix(e.Name(), filepath.Base(path)+made) {
				all = append(all, filepath.Join(filepath.Dir(path), e.Name()))
			}
		}
	}
	return all, fail(path, "looking for its copies", err)
}

func copiesFolder(path string) string {
	return strings.TrimSuffix(path, filepath.Ext(path)) + ".copies"
}

// dailyCopies returns the names of the daily copies of a book, the oldest first, and of
// those that were never finished, as their program was killed.
func dailyCopies(path string) (all, halves []string, err error) {
	dir := copiesFolder(path)
	entries, err := listFolder(dir)
	for _, e := range entries {
		day, more, isCopy := strings.Cut(strings.TrimPrefix(e.Name(), "."), ".db")
		if _, err := time.Parse(time.DateOnly, day); !isCopy || err != nil {
			continue
		}
		if name := filepath.Join(dir, e.Name()); more == "" {
			all = append(all, name)
		} else if strings.HasPrefix(more, ".new-") {
			halves = append(halves, name)
		}
	}
	slices.Sort(all)
	return all, halves, fail(path, "looking for its daily copies", err)
}

func listFolder(dir string) ([]fs.DirEntry, error) {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	return entries, err
}
