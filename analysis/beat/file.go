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
	eventsAtOnce = 2048
	inFlight     = 8 // stretches, or loads of events, between two sides
)

// Read takes all events of a source by their count alone and returns what they
// say. Reading, numbering and summing run beside each other, so that two cores are
// both used; all have ended when it returns. The error is the source's own, a
// *TooFewError or an *InputError.
func Read(src Source, o Options) (Result, error) {
	a, err := NewAnalyser(o)
	if err != nil {
		return Result{}, err
	}
	full, free := make(chan *load, inFlight), make(chan *load, inFlight)
	for range inFlight {
		free <- &load{counts: make([]uint64, eventsAtOnce), edges: make([]int16, eventsAtOnce)}
	}
	go func() { // it ends with the source, and what it sends is taken to the end
		defer close(full)
		for l := range free {
			if l.n, l.err = src.Next(l.counts, l.edges); l.err != nil {
				full <- l
				return
			}
			full <- l
		}
	}()
	err = a.Beside(func() error {
		for l := range full {
			if l.err == nil {
				a.AddCounts(l.counts[:l.n], l.edges[:l.n])
				free <- l
			} else if !errors.Is(l.err, io.EOF) {
				return l.err
			}
		}
		return nil
	})
	if err != nil {
		return Result{}, err
	}
	return a.Result()
}

// load is what is read at once.
type load struct {
	counts []uint64
	edges  []int16
	n      int
	err    error
}

// Beside calls add, which adds beats, and closes the Analyser when it returns no
// error. What is summed of the beats is summed beside it, on another core where
// there is one. add must not ask for the Result.
func (a *Analyser) Beside(add func() error) error {
	full, free := make(chan *stretch, inFlight), make(chan *stretch, inFlight)
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
		if a.o.Laid != nil {
			a.grid.tell(s, a.o.Laid)
		}
		full <- s
		return <-free
	}
	err := add()
	if err == nil {
		a.Close()
	}
	close(full)
	<-done
	a.grid.next = alone
	return err
}
