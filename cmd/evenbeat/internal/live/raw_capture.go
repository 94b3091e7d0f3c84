package live

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"evenbeat/devices"
	"evenbeat/devices/capture"
	"evenbeat/sessions"
)

// rawSource keeps what a source delivers as a capture, beside delivering it.
type rawSource struct {
	Source
	file string
	head string
	warn func(format string, args ...any)
}

// keepRaw has a session's bytes kept in a folder beside the book, if the settings
// say so: a decoder that is mended later can then read them again. The suffix tells
// several captures of a session apart.
func (s *session) keepRaw(src Source, ses sessions.Session, suffix string) Source {
	if src == nil || !s.bench.Settings.KeepRaw {
		return src
	}
	return &rawSource{src, rawFile(s.bench.Settings.Book, ses.ID, suffix),
		fmt.Sprintf("session %d, port %s, profile %s", ses.ID, ses.Port, ses.Profile), s.warn}
}

// rawFile names the capture of a session: book.raw/session-7.capture for book.db.
func rawFile(book string, session int64, suffix string) string {
	return filepath.Join(RawFolder(book), fmt.Sprintf("session-%d%s.capture", session, suffix))
}

// RawFolder is the folder beside a book in which captures are kept.
func RawFolder(book string) string { return strings.TrimSuffix(book, filepath.Ext(book)) + ".raw" }

// Run delivers what the source does. A capture that can't be written is told of, and
// ends nothing: the readings are worth more, and go to the book.
func (r *rawSource) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	w, shut, err := r.begin()
	if err != nil {
		r.warn("raw bytes are not kept: %v", err)
		return r.Source.Run(ctx, deliver)
	}
	var lost error
	err = r.Source.Run(ctx, func(c devices.Chunk) error {
		if lost == nil {
			if lost = errors.Join(w.Write(c), w.Flush()); lost != nil {
				r.warn("raw bytes are kept no longer: %v", lost)
			}
		}
		return deliver(c)
	})
	if cerr := shut(); cerr != nil && lost == nil {
		r.warn("raw bytes may not all be kept: %v", cerr)
	}
	return err
}

func (r *rawSource) begin() (*capture.Writer, func() error, error) {
	if err := os.MkdirAll(filepath.Dir(r.file), 0o755); err != nil {
		return nil, nil, err
	}
	return CreateCapture(r.file, r.head)
}

// CreateCapture makes a capture, with a remark at its head, and what closes it. An earlier
// recording is never written over.
func CreateCapture(file, head string) (*capture.Writer, func() error, error) {
	f, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return nil, nil, err
	}
	w := capture.NewWriter(f)
	if err := w.Remark(head); err != nil {
		return nil, nil, errors.Join(err, f.Close())
	}
	return w, f.Close, nil
}
