package beat

import (
	"errors"
	"io"
)

// Source gives events in order: counts, and for each its edge. It returns io.EOF
// with none when there are no more.
type Source interface {
	Next(counts []uint64, edges []int16) (n int, err error)
}

const (
	eventsAtOnce = 4096
	inFlight     = 16 // stretches between the two sides
)

// Read takes all events of a source by their count alone and returns what they
// say. Reading and numbering run beside the sums, on two cores where there are
// two; both have ended when it returns. The error is the source's own, a
// *TooFewError or an *InputError.
func Read(src Source, o Options) (Result, error) {
	a, err := NewAnalyser(o)
	if err != nil {
		return Result{}, err
	}
	full := make(chan *stretch, inFlight)
	free := make(chan *stretch, inFlight)
	for range inFlight {
		free <- &stretch{}
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		for s := range full {
			a.sums.add(s)
			free <- s
		}
	}()
	alone := a.grid.next
	a.grid.next = func(s *stretch) *stretch {
		full <- s
		return <-free
	}
	err = a.drain(src)
	if err == nil {
		a.Close()
	}
	close(full)
	<-done
	a.grid.next = alone
	if err != nil {
		return Result{}, err
	}
	return a.Result()
}

func (a *Analyser) drain(src Source) error {
	counts, edges := make([]uint64, eventsAtOnce), make([]int16, eventsAtOnce)
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
}
