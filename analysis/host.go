package analysis

import (
	"evenbeat/analysis/timebase"
	"evenbeat/sessions"
)

// hostOf returns what is known of the clock of the computer that timed a session: what
// its system told, and what the sessions before it on the same computer found.
func hostOf(ses sessions.Session, o RateOptions) timebase.Host {
	h := systemTold(ses)
	h.LimitPPM = o.HostLimitPPM
	if o.Run != nil {
		h.LongestS = o.Run.LongestS
	}
	if len(o.HostReadings) == 0 {
		return h
	}
	now := o.HostReadings[0]
	var all []timebase.Crystal
	for _, s := range o.Earlier {
		if len(s.Readings) == 0 || s.Readings[0].Host != now.Host {
			continue
		}
		if ppm, ok := timebase.FindCrystal(s.Readings, s.Told, systemTold(s.Session)); ok {
			age := max(0, ses.Started.Sub(s.Session.Started).Seconds())
			all = append(all, timebase.Crystal{PPM: ppm, AgeS: age, Boot: s.Readings[0].Boot})
		}
	}
	h.Crystal = timebase.Recall(all, now.Boot)
	h.SteeredPPM, _, h.HasSteered = timebase.Steered(o.HostReadings)
	return h
}

// systemTold returns what the system told of its clock as a session began.
func systemTold(ses sessions.Session) timebase.Host {
	return timebase.Host{Known: ses.Timing.HostKnown, Synced: ses.Timing.HostSynced, MaxErrorS: ses.Timing.HostMaxErrorS}
}

// AddHostReading takes what the computer tells of its clock while the session goes on.
func (r *Rater) AddHostReading(h sessions.HostReading) {
	r.o.HostReadings = append(r.o.HostReadings[:min(1, len(r.o.HostReadings))], h)
	if ppm, _, ok := timebase.Steered(r.o.HostReadings); ok {
		r.Steered(ppm)
	}
}
