package main

import (
	"context"
	"os"
	"strconv"
	"testing"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// wanted returns the number that the environment asks for, or else a modest one.
func wanted(t *testing.T, name string, modest int) int {
	t.Helper()
	text := os.Getenv(name)
	if text == "" {
		return modest
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		t.Fatalf("%s=%q: want a number from 1 on", name, text)
	}
	return n
}

func beatsIn(ctx context.Context, b *book.Book, s sessions.Session) (lines []string, err error) {
	for beats, err := range b.Beats(ctx, s.ID) {
		if err != nil {
			return nil, err
		}
		for _, x := range beats {
			lines = append(lines, strconv.FormatUint(x.Count, 10))
		}
	}
	return lines, nil
}

func readingsIn(ctx context.Context, b *book.Book, s sessions.Session) (lines []string, err error) {
	all, err := b.Readings(ctx, s.ClockID)
	for _, r := range all {
		if r.SessionID == s.ID {
			lines = append(lines, r.Text)
		}
	}
	return lines, err
}

func timesIn(ctx context.Context, b *book.Book, s sessions.Session) (lines []string, err error) {
	all, err := b.References(ctx, s.ID)
	for _, r := range all {
		lines = append(lines, told((r.Nanos-hourStart.UnixNano())/1e9))
	}
	return lines, err
}
