package main

import (
	"bytes"
	"errors"
	"image"
	_ "image/jpeg" // decoders
	_ "image/png"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
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
	dir := photoFolder(book)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	to := filepath.Join(dir, photoName(from))
	f, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		if there, err := os.ReadFile(to); err != nil || !bytes.Equal(there, data) {
			return badCall("--photo %s: another photograph of that name is kept in %s: give this one another name", from, dir)
		}
		return nil
	}
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		err = errors.Join(err, os.Remove(to))
	}
	return err
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
