package beat

import "math"

// addAll takes the next events, in ticks. It is add for each, made quick for beats
// in step: each heard, where it is due, and with no second event near it.
func (f *follower) addAll(ts []int64) {
	for len(ts) > 0 {
		ts = ts[f.inStep(ts):]
		if len(ts) > 0 {
			f.add(ts[0])
			ts = ts[1:]
		}
	}
}

// inStep takes the events that continue the beats in step and returns how many.
// It reckons as commit and place do, but for roundings; what it leaves to them it hasn't
// touched.
func (f *follower) inStep(ts []int64) int {
	used := 0
	for used < len(ts) {
		// The event that waits is the first to be numbered, and the next beat's.
		// Beats that are heard can't make a hold bad: only one that is needs the look.
		if !f.held || !f.pending || f.pk != f.k+1 || f.fresh || f.replaying || len(f.waiting) > 0 || sparse(f.hits) {
			return used
		}
		// The last beat of a stretch is left to commit, which hands the stretch on.
		room := min(stretchLen-1-f.grid.cur.n, len(ts)-used)
		n := 0
		if room > 0 && f.grid.beat == f.pk {
			n = f.steps(ts[used : used+room])
		}
		used += n
		if n < room || used == len(ts) {
			return used
		}
		if n = f.step(ts[used]); n == 0 {
			return used
		}
		used++
	}
	return used
}

// step takes one event if it is in step.
func (f *follower) step(t int64) int {
	if float64(t-f.pt) <= 2*math.Abs(f.pr) {
		return 0
	}
	f.commit()
	if !f.held {
		return 0
	}
	if n, r := f.place(t); n == 1 && r <= f.gate && r >= -f.gate {
		f.pending, f.pk, f.pt, f.pr = true, f.k+1, t, r
		return 1
	}
	return 0
}

// steps takes events in step until one isn't; no more than there is room for in the
// stretch. What waits is numbered when the next event is seen; where that is out of
// step, nothing waits any more.
func (f *follower) steps(ts []int64) int {
	interval, spread := f.interval, f.spread
	pr, gate, sec := f.pr, f.gate, f.sec
	apart, out := f.apart, f.grid.apart // with the sign of the beat that waits, even or odd
	if f.pk&1 != 0 {
		apart, out = -apart, -out
	}
	due := f.due + (2*interval - apart) // when the next one is, were this one not late
	ref, number := f.grid.ref, float64(f.pk)
	phases := f.grid.room(len(ts))[:len(ts)]
	pt, from, origin := f.pt, f.last, f.origin
	since, late := float64(pt-origin), math.Abs(pr)
	look := int(-f.pk & (lookEvery - 1)) // the place of the next beat after which the gate is set
	// When the next is due depends on how late this one came by nextGain, and the one
	// after it by that and by laterGain. The rest of these sums doesn't wait for it:
	// event after event, that is what takes time.
	const (
		nextGain  = dueGain + intervalGain - apartGain
		laterGain = dueGain + 2*intervalGain + apartGain
	)
	i, waits := 0, true
	for ; i < len(ts); i++ {
		t := ts[i]
		now := float64(t - origin)
		if now-since <= 2*late {
			break
		}
		phases[i] = since*sec - number*ref - out
		from = pt
		number++
		since = now
		r := (now - due) - nextGain*pr
		due = (due + interval + 2*apart) + laterGain*pr
		interval += intervalGain * pr
		if late > 3*spread {
			late = 3 * spread
		}
		spread = (1-spreadGain)*spread + spreadGain*deviation*late
		apart, out = -(apart + apartGain*pr), -out
		if i == look {
			gate = gateFor(interval, apart, spread)
			f.inverse = 1 / interval
			look += lookEvery
		}
		if late = math.Abs(r); !(late < gate) {
			waits = false
			break
		}
		pt, pr = t, r
	}
	numbered := i
	if !waits {
		numbered++
	}
	f.interval, f.due, f.spread, f.gate = interval, due-(2*interval-apart), spread, gate
	f.k += int64(numbered)
	if f.apart = apart; f.k&1 == 0 { // of the beat after the last numbered
		f.apart = -apart
	}
	f.hits = f.hits<<uint(numbered) | (1<<uint(numbered) - 1) // shifts of 64 and more leave nothing but ones
	f.beats += int64(numbered)
	f.span += from - f.last
	f.last = from
	f.pending, f.pk, f.pt, f.pr = waits, f.k+1, pt, pr
	f.grid.lay(numbered)
	return i
}
