package simulate

import (
	"errors"
	"os"
	"testing"
)

func TestCloseFreesAWriteThatNobodyReads(t *testing.T) {
	l, _ := pair(t)
	gone := make(chan error, 1)
	full := make(chan struct{})
	go func() {
		block := make([]byte, 1<<20) // far more than a pseudo-terminal holds
		close(full)
		_, err := l.Instrument.Write(block)
		gone <- err
	}()
	<-full
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if err := <-gone; !errors.Is(err, os.ErrClosed) {
		t.Errorf("the write ended with %v, want %v", err, os.ErrClosed)
	}
}
