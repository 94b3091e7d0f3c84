package live

import (
	"fmt"
	"math"
	"testing"
	"time"
)

// A line that tells when its beat came is as good as one with a count, however late it
// arrives.
func TestTimesInLinesAreTheBeats(t *testing.T) {
	chunks, counts := beatsOfClock(t, 5)
	byCount, err := misread(t, onBench(t), chunks, "count-lines", false, &memory{})
	if err != nil {
		t.Fatal(err)
	}
	want := byCount.State().Estimate.Result
	for name, line := range map[string]func(time.Time) string{
		"Unix seconds": func(at time.Time) string { return fmt.Sprintf("%d.%06d\r\n", at.Unix(), at.Nanosecond()/1000) },
		"RFC 3339":     func(at time.Time) string { return at.Format(time.RFC3339Nano) + "\r\n" },
	} {
		chunks, _ := beatsOfClock(t, 5)
		for i := range chunks {
			since := time.Duration(uint32(counts[i]-counts[0])) * time.Microsecond
			chunks[i].Bytes = []byte(line(time.Unix(1772366400, 0).UTC().Add(since)))
		}
		timing, err := misread(t, onBench(t), chunks, "utc-lines", false, &memory{})
		if err != nil {
			t.Fatal(err)
		}
		got := timing.State().Estimate.Result
		if got.Beats != want.Beats || math.Abs(got.Rate.V-want.Rate.V) > 0.01*want.Rate.U || math.Abs(got.Rate.U/want.Rate.U-1) > 0.01 ||
			math.Abs(got.BeatError.V-want.BeatError.V) > 1e-9 {
			t.Errorf("%s: got rate %v of %d beats, beat error %v; by the count it is %v, %d, %v", name, got.Rate, got.Beats, got.BeatError, want.Rate, want.Beats, want.BeatError)
		}
	}
}
