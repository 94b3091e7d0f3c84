package book

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"evenbeat/sessions"
)

// childBook, in the environment, turns the test program into one that records into
// that book without end and says each number after it is acknowledged.
const childBook = "EVENBEAT_TEST_CHILD_BOOK"

func TestMain(m *testing.M) {
	if path := os.Getenv(childBook); path != "" {
		if err := record(context.Background(), path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
	os.Exit(m.Run())
}

func record(ctx context.Context, path string) error {
	b, err := Open(ctx, path, Options{Create: true})
	if err != nil {
		return err
	}
	c, err := b.AddClock(ctx, sessions.Clock{Name: "clock " + strconv.Itoa(os.Getpid())})
	if err != nil {
		return err
	}
	ses, err := b.StartSession(ctx, sessions.Session{ClockID: c.ID, Kind: sessions.SessionTime, Started: noon})
	if err != nil {
		return err
	}
	fmt.Println("session", ses)
	for n := uint64(1); ; n++ {
		if _, err := b.AddReading(ctx, sessions.Reading{SessionID: ses, ClockID: c.ID, At: noon, Dimension: "bore", Kind: sessions.Inside, Value: float64(n), State: sessions.Kept}); err != nil {
			return err
		}
		if err := b.AppendBeats(ctx, ses, []sessions.Beat{{Count: 2 * n}, {Count: 2*n + 1}}); err != nil {
			return err
		}
		fmt.Println(n)
		if n%16 == 0 {
			if err := b.CompactBeats(ctx, ses); err != nil {
				return err
			}
		}
	}
}

// child starts a recorder on the book, kills it without warning once it has said
// n numbers, and returns its session and the last number it said.
func child(t *testing.T, path string, n int) (session, last int64) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childBook+"="+path)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	for said := 0; lines.Scan(); {
		if s, ok := strings.CutPrefix(lines.Text(), "session "); ok {
			session, _ = strconv.ParseInt(s, 10, 64)
			continue
		}
		if last, err = strconv.ParseInt(lines.Text(), 10, 64); err != nil {
			t.Errorf("child said %q", lines.Text())
		}
		if said++; said == n { // and then whatever it had still said
			if err := cmd.Process.Kill(); err != nil {
				t.Error(err)
			}
		}
	}
	if err := cmd.Wait(); err == nil || !strings.Contains(err.Error(), "killed") {
		t.Errorf("child ended by itself: %v", err)
	}
	return session, last
}

// holds checks that every acknowledged reading and beat of the session is there.
func holds(t *testing.T, b *Book, session, last int64) {
	t.Helper()
	s, err := b.Session(t.Context(), session)
	if err != nil {
		t.Error(err)
		return
	}
	readings, err := b.Readings(t.Context(), s.ClockID)
	if err != nil {
		t.Error(err)
	}
	for i, r := range readings {
		if r.Value != float64(i+1) {
			t.Fatalf("reading %d is %v", i+1, r.Value)
		}
	}
	beats, _ := beatsOf(t, b, session)
	for i, x := range beats {
		if x.Count != uint64(i+2) {
			t.Fatalf("beat %d is %d", i, x.Count)
		}
	}
	if n := int64(len(readings)); n < last || n > last+1 || int64(len(beats)) < 2*last || int64(len(beats)) > 2*n {
		t.Errorf("session %d: %d readings and %d beats in the book, %d and %d were acknowledged", session, n, len(beats), last, 2*last)
	}
}

func sound(t *testing.T, b *Book) {
	t.Helper()
	if r, err := b.Check(t.Context()); err != nil || !r.OK() {
		t.Errorf("check: %q, %v", r.Problems, err)
	}
}

// A recorder killed at any moment loses nothing that it acknowledged.
func TestKilled(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	for seed := range uint64(6) {
		n := 1 + rand.New(rand.NewPCG(seed, 0)).IntN(120)
		session, last := child(t, path, n)
		b := open(t, path, Options{})
		holds(t, b, session, last)
		sound(t, b)
		if t.Failed() {
			t.Fatalf("seed %d", seed)
		}
	}
}

// Two programs record into one book at once, both making it, and both are killed.
func TestTwoPrograms(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	var wg sync.WaitGroup
	var session, last [2]int64
	for i := range session {
		wg.Go(func() { session[i], last[i] = child(t, path, 60) })
	}
	wg.Wait()
	b := open(t, path, Options{})
	for i := range session {
		holds(t, b, session[i], last[i])
	}
	sound(t, b)
}
