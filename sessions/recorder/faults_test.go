package recorder

import (
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/rs/zerolog"

	"evenbeat/devices"
	"evenbeat/devices/lines"
	"evenbeat/sessions"
)

func wrong(at time.Duration, kind devices.FaultKind, text string) devices.Said {
	return devices.Said{Kind: devices.KindFault, At: devices.Stamp{UTC: noon.UnixNano() + int64(at), Mono: int64(at)}, Fault: kind, Text: text}
}

// A flood of a hundred thousand faults in 20 s is a row a second, from which the number,
// the first and the last can be told; a beat in it is on the disk as ever, and a fault of
// another kind is told at once.
func TestFlood(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &memory{}
		var told []Event
		r := timingOn(store, &told)
		in, done := make(chan []devices.Said), make(chan error, 1)
		go func() { done <- r.Run(t.Context(), in) }()
		const flood, step = 100_000, 200 * time.Microsecond
		for i := range flood {
			at := time.Duration(i) * step
			batch := []devices.Said{wrong(at, devices.FaultGarbage, strconv.Quote(fmt.Sprint("x", i)))}
			if i == flood/2 {
				batch = append(batch, wrong(at, devices.FaultReset, "anew"), beat(at.Milliseconds(), 7))
			}
			in <- batch
			time.Sleep(step)
		}
		began := time.Now()
		close(in)
		if err := <-done; err != nil || time.Since(began) > 0 {
			t.Errorf("ended after %v, %v", time.Since(began), err)
		}
		n := map[string]int{}
		for i, e := range told {
			if e.Kind == Faulty {
				n[e.Fault.Kind] += e.Times
			}
			if e.Fault.Kind == string(devices.FaultReset) && (e.Times != 1 || e.Fault.At != noon.Add(10*time.Second) || told[i-1].Fault.At.Before(noon.Add(8*time.Second))) {
				t.Errorf("told of %+v after %+v", e.Fault, told[i-1].Fault)
			}
		}
		if n["garbage"] != flood || n["reset"] != 1 || len(store.faults) > 23 || len(store.beats) != 1 || !store.beats[0].Break {
			t.Errorf("%v in %d rows, beats %+v", n, len(store.faults), store.beats)
		}
		for _, f := range store.faults {
			if len(f.Text) > faultText+64 {
				t.Errorf("a row of %d bytes", len(f.Text))
			}
		}
		first, second, last := store.faults[0], store.faults[1], store.faults[len(store.faults)-1]
		if first.Text != `"x0"` || !strings.HasPrefix(second.Text, `4999 times up to 12:00:00.999 UTC: "x1"; +0.0002 "x2"; `) ||
			!strings.HasSuffix(second.Text, "; …") || !strings.Contains(last.Text, " times up to 12:00:19.999 UTC: ") {
			t.Errorf("first %q, then %q, last %q", first.Text, second.Text, last.Text)
		}
	})
}

// What is gathered of a flood that ends is on the disk within two seconds.
func TestFloodEnds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &memory{}
		r := &Timing{Store: store, Session: sessions.Session{ID: 1, Started: noon}, Log: zerolog.Nop()}
		in, done := make(chan []devices.Said), make(chan error, 1)
		go func() { done <- r.Run(t.Context(), in) }()
		in <- []devices.Said{wrong(0, devices.FaultGarbage, "a"), wrong(1, devices.FaultGarbage, "b"), wrong(2, devices.FaultLost, "c"), wrong(3, devices.FaultLost, "d")}
		time.Sleep(2 * faultsEvery)
		synctest.Wait()
		if len(store.faults) != 4 {
			t.Errorf("rows %+v, want two of each kind", store.faults)
		}
		close(in)
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
}

// Faults of all kinds at once are told of in turn, a row a second, and none is left out.
func TestFloodOfAllKinds(t *testing.T) {
	kinds := append(devices.FaultKinds(), NotAskedFor, NoTime)
	f := newFaults()
	const each, step = 500, 10 * time.Millisecond
	for i := range each * len(kinds) {
		s := wrong(time.Duration(i)*step, kinds[i%len(kinds)], strconv.Itoa(i))
		f.add(fault(1, s, s.Fault))
	}
	during := len(f.ready)
	f.end()
	n := map[string]int{}
	for _, e := range f.ready {
		n[e.Fault.Kind] += e.Times
	}
	for _, k := range kinds {
		if n[string(k)] != each {
			t.Errorf("%s: %d of %d", k, n[string(k)], each)
		}
	}
	if most := each*len(kinds)/100 + len(kinds); during > most {
		t.Errorf("%d rows, want %d at most", during, most)
	}
}

// Every line of a clock of ten beats a second that is read in a wrong format can be told
// from the rows, with the time at which it came.
func TestFaultsApart(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 0))
	var want, got []sessions.Fault
	f := newFaults()
	for i := range 1000 {
		at := time.Duration(i)*100*time.Millisecond + time.Duration(rng.IntN(20_000))*time.Microsecond
		text := lines.Fault(devices.Stamp{}, devices.FaultGarbage, fmt.Appendf(nil, "17723664%02d.%06d; +", i, rng.IntN(1e6)), "").Text
		if i%7 == 0 {
			text += ": broken off"
		}
		x := sessions.Fault{SessionID: 3, At: noon.Add(at), Kind: "garbage", Text: text}
		want = append(want, x)
		f.add(x)
	}
	f.end()
	for _, e := range f.ready {
		got = append(got, Apart(e.Fault)...)
	}
	if d := cmp.Diff(want, got); d != "" || len(f.ready) > 105 {
		t.Errorf("%d rows tell of (-want +got):\n%.2000s", len(f.ready), d)
	}
}

// A flood while the disk is full takes no room from beats, and ends nothing.
func TestFloodOnFullDisk(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		full := true
		store := &tight{full: func() bool { return full }}
		var told []Event
		in, done := make(chan []devices.Said), make(chan error, 1)
		go func() { done <- timingOn(store, &told).Run(t.Context(), in) }()
		n := 0
		for ; n < 3*holdPaused; n++ {
			in <- []devices.Said{wrong(time.Duration(n)*time.Millisecond, devices.FaultGarbage, "?")}
		}
		in <- []devices.Said{beat(int64(n), 1)}
		full = false
		close(in)
		if err := <-done; err != nil || len(store.beats) != 1 {
			t.Errorf("%d beats, %v", len(store.beats), err)
		}
		for _, e := range told {
			n -= e.Times
		}
		if n != -1 { // the pause is a fault too
			t.Errorf("%d faults not told of", n+1)
		}
	})
}
