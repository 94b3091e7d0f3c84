package main

import (
	"bufio"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"evenbeat/devices/quantity"
	"evenbeat/sessions/book"
)

// packedExt is the ending of a file that is packed.
const packedExt = ".gz"

// withInput opens a file named on the command line, hands it to read, unpacked if its name
// says that it is packed, and closes it; - is standard input.
func (a *app) withInput(name string, read func(io.Reader) error) error {
	if name == "-" {
		return read(a.in)
	}
	f, err := os.Open(name)
	if err != nil {
		return asCall(err)
	}
	var in io.Reader = f
	if strings.EqualFold(filepath.Ext(name), packedExt) {
		z, err := gzip.NewReader(f)
		if err != nil {
			return errors.Join(badCall("%s: %w", name, err), f.Close())
		}
		in = z // which sees a wrong checksum at its end
	}
	return errors.Join(read(in), f.Close())
}

// asPlace marks an error as the caller's fault if the place named for a file is
// wrong: no such folder, or no permission to write there. A full disk isn't.
func asPlace(err error) error {
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, fs.ErrPermission) || errors.Is(err, fs.ErrExist) || errors.Is(err, syscall.ENOTDIR) {
		return asCall(err)
	}
	return err
}

// writeOut writes a file that the user named, so that it is complete or not there at
// all: it is written beside its place, then moved into it. What is no regular file, such
// as a device or a pipe, is written to as it is. The book, and what lies beside it, is
// refused. Errors name the file as it was named.
func (a *app) writeOut(name string, write func(io.Writer) error) error {
	if err := a.spareBook(name); err != nil {
		return err
	}
	info, err := os.Stat(name)
	switch {
	case err == nil && !info.Mode().IsRegular():
		err = writeThrough(name, write)
	case err == nil || errors.Is(err, fs.ErrNotExist):
		err = writeBeside(place(name), write)
	}
	if e, ok := errors.AsType[*fs.PathError](err); ok {
		return asPlace(fmt.Errorf("%s: %w", name, e.Err))
	}
	if e, ok := errors.AsType[*os.LinkError](err); ok {
		return asPlace(fmt.Errorf("%s: %w", name, e.Err))
	}
	return err
}

// spareBook refuses the name of the book, of the files that are kept beside it and of the
// copies of it there, by whatever way it leads there, whether they are there yet or not.
// A disk may take small and capital letters for the same.
func (a *app) spareBook(name string) error {
	file := a.loaded.Settings.Book
	theirs := []string{file, file + "-wal", file + "-shm", file + "-journal", file + "-tally"}
	copies, err := book.CopiesOf(file)
	if err != nil {
		return err
	}
	is, err := os.Stat(name)
	for _, file := range append(theirs, copies...) {
		there, berr := os.Stat(file)
		if err == nil && berr == nil && os.SameFile(is, there) || strings.EqualFold(place(name), place(file)) {
			return badCall("%s: this is the book, or belongs to it: name another file", name)
		}
	}
	return nil
}

// mostLinks bounds a chain of links; systems follow 40 or fewer.
const mostLinks = 40

// place returns where a file of that name lies, or would lie: all links are followed, the
// last one even if nothing is at its end yet.
func place(name string) string {
	for range mostLinks {
		dir, err := filepath.Abs(filepath.Dir(name))
		if to, rerr := filepath.EvalSymlinks(dir); rerr == nil {
			dir = to
		}
		if err != nil {
			break
		}
		name = filepath.Join(dir, filepath.Base(name))
		to, err := os.Readlink(name)
		if err != nil {
			break // no link
		}
		if name = to; !filepath.IsAbs(to) {
			name = filepath.Join(dir, to)
		}
	}
	return name
}

func writeThrough(name string, write func(io.Writer) error) error {
	f, err := os.OpenFile(name, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	return errors.Join(fill(f, write), f.Close())
}

func writeBeside(name string, write func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+".*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	err = fill(f, write)
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

func fill(f *os.File, write func(io.Writer) error) error {
	w := bufio.NewWriter(f)
	if err := write(w); err != nil {
		return err
	}
	return w.Flush()
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

// visibleWriter is what findings are printed to: nothing that came from outside steers
// the terminal.
type visibleWriter struct{ io.Writer }

func (v visibleWriter) Write(p []byte) (int, error) {
	if _, err := io.WriteString(v.Writer, quantity.Visible(string(p))); err != nil {
		return 0, err
	}
	return len(p), nil
}
