package main

import (
	"bufio"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
)

// withInput opens a file named on the command line, hands it to read and closes it;
// - is standard input.
func (a *app) withInput(name string, read func(io.Reader) error) error {
	if name == "-" {
		return read(a.in)
	}
	f, err := os.Open(name)
	if err != nil {
		return asCall(err)
	}
	return errors.Join(read(f), f.Close())
}

// asPlace marks an error as the caller's fault if the place named for a file is
// wrong: no such folder, or no permission to write there. A full disk isn't.
func asPlace(err error) error {
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, fs.ErrPermission) || errors.Is(err, fs.ErrExist) || errors.Is(err, syscall.ENOTDIR) {
		return asCall(err)
	}
	return err
}

// writeWhole writes a file so that it is complete or not there at all: it is written
// beside its place, then moved into it. "-" isn't special here.
func writeWhole(name string, write func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+".*")
	if err != nil {
		return asPlace(err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	w := bufio.NewWriter(f)
	err = write(w)
	if err == nil {
		err = w.Flush()
	}
	if err == nil {
		err = f.Chmod(0o644)
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return err
	}
	return os.Rename(f.Name(), name)
}

// sizeOf returns the size of a file that is being read, 0 where it has none.
func sizeOf(r io.Reader) int64 {
	f, ok := r.(*os.File)
	if !ok {
		return 0
	}
	info, err := f.Stat()
	if err != nil || !info.Mode().IsRegular() {
		return 0
	}
	return info.Size()
}
