package beat

import (
	"errors"
	"io"

	"evenbeat/analysis/beat/numbering"
)

// Source gives events in order: counts, and for each its edge. When there are no more
// it returns none, and io.EOF.
type Source interface {
	Next(counts []uint64, edges []int16) (n int, err error)
}

const (
	eventsAtOnce = 2048
	// inFlight stretches lie between the two goroutines: more than one read from the disk
	// fills, so that neither has to wait while the other reads.
	inFlight = 32
)

// Read takes all events of a source by their count alone and returns what they
// say. Reading and numbering take as long as the sums, which run in a goroutine of their
// own; it has ended when Read returns. The error is the source's own, a *TooFewError or a
// *quantity.InputError.
func Read(src Source, o Options) (Result, error) {
	a, err := NewAnalyser(o)
	if err != nil {
		return Result{}, err
	}
	counts, edges := make([]uint64, eventsAtOnce), make([]int16, eventsAtOnce)
	err = a.Beside(func() error {
		for {
			n, err := src.Next(counts, edges)
			if errors.Is(err, io.EOF) {
				return nil
			}
			if err != nil {
				return err
			}
			a.AddCounts(counts[:n], edges[:n])
		}
	})
	if err != nil {
		return Result{}, err
	}
	return a.Result()
}

// Beside calls add, which adds beats, and closes the Analyser when it returns no
// error. The sums, and the calls of Options.Series, run in another goroutine meanwhile.
// add must not ask for the Result.
func (a *Analyser) Beside(add func() error) error {
	full, free := make(chan *numbering.Stretch, inFlight), make(chan *numbering.Stretch, inFlight)
	for range inFlight {
		free <- &numbering.Stretch{}
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		for s := range full {
			a.sums.add(s)
			free <- s
		}
	}()
	a.beside = func(s *numbering.Stretch) *numbering.Stretch {
		full <- s
		return <-free
	}
	err := add()
	if err == nil {
		a.Close()
	}
	close(full)
	<-done
	a.beside = nil
	return err
}
