package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"image"
	_ "image/jpeg" // decoders
	_ "image/png"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// Bounds of a photograph.
const (
	mostPhoto  = 32 << 20 // bytes
	mostPixels = 64 << 20
)

// photoName is the name under which a photograph is kept.
func photoName(path string) string { return filepath.Base(path) }

// photoFolder is where the photographs of a book lie, beside it.
func photoFolder(book string) string {
	return strings.TrimSuffix(book, filepath.Ext(book)) + ".photos"
}

// keepPhoto copies a photograph into the folder beside the book. One of that name that is
// there already stays, and must be the same.
func keepPhoto(book, from string) error {
	data, err := readPhoto(from)
	if err != nil {
		return badCall("--photo %s: %w", from, err)
	}
	err = putPhoto(photoFolder(book), photoName(from), data)
	if errors.Is(err, errOtherPhoto) {
		return badCall("--photo %s: another photograph of that name is kept in %s: give this one another name", from, photoFolder(book))
	}
	return err
}

var errOtherPhoto = errors.New("another photograph of that name is there")

// putPhoto puts a photograph into a folder, whole or not at all, and reads it back. One
// that is there already is never replaced.
func putPhoto(dir, name string, data []byte) (err error) {
	to := filepath.Join(dir, name)
	there, err := os.ReadFile(to)
	if err == nil && !bytes.Equal(there, data) {
		return errOtherPhoto
	}
	if err == nil || !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	f, err := os.CreateTemp(dir, "."+name+".*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	_, err = f.Write(data)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	if there, err = os.ReadFile(f.Name()); err == nil && !bytes.Equal(there, data) {
		err = fmt.Errorf("%s was not written as it is: try another disk", to)
	}
	if err != nil {
		return err
	}
	return os.Rename(f.Name(), to)
}

// carryPhotos copies the photographs that a book names from beside one book to beside
// another, some of them under new names. One that is gone, or has another of its name in its
// place, is told.
func (a *app) carryPhotos(ctx context.Context, b *book.Book, from, to string, renamed map[string]string) error {
	names, err := photosOf(ctx, b)
	if err != nil {
		return err
	}
	carried := int64(0)
	for _, name := range names {
		if renamed[name] != "" {
			continue // this book's own
		}
		was := name
		for old, fresh := range renamed {
			if fresh == name {
				was = old
				a.say("The photograph %s there is another than the one here: it is kept as %s.\n", old, fresh)
			}
		}
		data, err := os.ReadFile(filepath.Join(photoFolder(from), was))
		if err == nil {
			err = putPhoto(photoFolder(to), name, data)
		}
		_, there := os.Stat(filepath.Join(photoFolder(to), name))
		switch {
		case err == nil:
			carried++
		case errors.Is(err, fs.ErrNotExist) && there == nil:
		case errors.Is(err, fs.ErrNotExist), errors.Is(err, errOtherPhoto):
			a.say("Warning: the photograph %s was not copied from %s: %v.\n", name, photoFolder(from), err)
		default:
			return fmt.Errorf("photograph %s: %w", name, err)
		}
	}
	if carried > 0 {
		a.say("%d %s beside it, in %s.\n", carried, quantity.Plural(carried, "photograph lies", "photographs lie"), photoFolder(to))
	}
	return nil
}

// otherPhotos returns new names for the photographs of one folder that another folder, into
// which they are to come, has others of the same name for. By the name it is told again.
func otherPhotos(into, from string) (map[string]string, error) {
	files, err := os.ReadDir(from)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	names := map[string]string{}
	for _, f := range files {
		mine, here := os.ReadFile(filepath.Join(into, f.Name()))
		theirs, there := os.ReadFile(filepath.Join(from, f.Name()))
		if here == nil && there == nil && !bytes.Equal(mine, theirs) {
			ext := filepath.Ext(f.Name())
			names[f.Name()] = fmt.Sprintf("%s-%.8x%s", strings.TrimSuffix(f.Name(), ext), sha256.Sum256(theirs), ext)
		}
	}
	return names, err
}

// photosOf returns the names of the photographs that a book has of all its clocks, those
// that were taken back among them.
func photosOf(ctx context.Context, b *book.Book) (names []string, err error) {
	clocks, err := b.Clocks(ctx)
	if err != nil {
		return nil, err
	}
	for _, c := range clocks {
		rec, err := b.Record(ctx, c.ID, book.Particulars)
		if err != nil {
			return nil, err
		}
		for _, t := range rec.Withdrawn.Particulars {
			rec.Particulars = append(rec.Particulars, t.Row)
		}
		for _, p := range rec.Particulars {
			if p.Name == sessions.Photo && photoName(p.Value) == p.Value { // another book may name anything
				names = append(names, p.Value)
			}
		}
	}
	slices.Sort(names)
	return slices.Compact(names), nil
}

// readPhoto reads a photograph that is of a size and kind that a sheet can show.
func readPhoto(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	data, err := io.ReadAll(io.LimitReader(f, mostPhoto+1))
	switch err = errors.Join(err, f.Close()); {
	case err != nil:
		return nil, err
	case len(data) > mostPhoto:
		return nil, errors.New("is larger than 32 MiB: make it smaller")
	}
	size, _, err := image.DecodeConfig(bytes.NewReader(data))
	switch {
	case err != nil:
		return nil, errors.New("is no picture in JPEG or PNG")
	case int64(size.Width)*int64(size.Height) > mostPixels:
		return nil, errors.New("has more than 67 million pixels: make it smaller")
	}
	return data, nil
}
