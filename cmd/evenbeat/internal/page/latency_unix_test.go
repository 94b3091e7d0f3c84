//go:build unix

package page

import (
	"fmt"
	"net/url"
	"slices"
	"sync"
	"testing"
	"time"

	"evenbeat/sessions"
)

// eight has eight instruments send a reading each tenth of a second or so, and a browser looks at
// each of them. It returns how long each reading took, from before its first byte is
// written to the pseudo-terminal to the event that shows it.
func eight(t testing.TB, readings int) []time.Duration {
	b := serve(t, nil)
	took := make([][]time.Duration, 8)
	var all sync.WaitGroup
	for i := range took {
		c := b.add(t, sessions.Clock{Name: fmt.Sprint("clock ", i)})
		caliper, name := b.plug(t)
		place := addressOf(measuringPath, c)
		b.must(t, place, url.Values{"plan": {"mainspring"}, "port": {name}, "profile": {"caliper"}})
		s := b.look(t, place+"/events", 0)
		s.await(t, "asked", "bore")
		all.Go(func() {
			for n := range readings {
				<-time.After(time.Duration(100+7*i) * time.Millisecond)
				line := fmt.Sprintf("63.%02d", 10+n%9)
				began := time.Now()
				send(t, caliper, line+"mm")
				s.await(t, "last", line)
				took[i] = append(took[i], time.Since(began))
			}
		})
	}
	all.Wait()
	sorted := slices.Concat(took...)
	slices.Sort(sorted)
	return sorted
}

// BenchmarkByteToPage prints the distribution of the time from a byte at the instrument's
// end of the line to the event at the browser, with eight instruments at once.
func BenchmarkByteToPage(b *testing.B) {
	for b.Loop() {
		sorted := eight(b, 40)
		at := func(share float64) time.Duration { return sorted[int(share*float64(len(sorted)-1))] }
		for name, share := range map[string]float64{"p50": .5, "p95": .95, "p99": .99, "max": 1} {
			b.ReportMetric(float64(at(share).Microseconds())/1e3, name+"-ms")
		}
	}
}
