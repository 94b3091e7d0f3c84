package main

import (
	"testing"
	"time"
)

func TestTimesThatCameTwice(t *testing.T) {
	for _, tc := range []struct{ zone, text, want, odd string }{
		{"Europe/Paris", "2026-10-25T01:59", "2026-10-25T01:59:00+02:00", ""},
		{"Europe/Paris", "2026-10-25T02:00", "2026-10-25T02:00:00+02:00", "25 Oct 2026 02:00 came twice when the clocks were put back; it is taken as the first, 02:00 CEST: write 2026-10-25T02:00:00+01:00 for the second"},
		{"Europe/Paris", "2026-10-25 02:59:59", "2026-10-25T02:59:59+02:00", "25 Oct 2026 02:59 came twice when the clocks were put back; it is taken as the first, 02:59 CEST: write 2026-10-25T02:59:59+01:00 for the second"},
		{"Europe/Paris", "2026-10-25T03:00", "2026-10-25T03:00:00+01:00", ""},
		{"Europe/Paris", "2026-10-25T02:30+01:00", "2026-10-25T02:30:00+01:00", ""},
		{"Europe/Paris", "2026-10-25T02:30+02:00", "2026-10-25T02:30:00+02:00", ""},
		{"Europe/Paris", "2026-03-29T02:30", "2026-03-29T03:30:00+02:00", "29 Mar 2026 02:30 was skipped when the clocks were put forward; it is taken as 03:30 CEST"},
		{"Australia/Lord_Howe", "2026-04-05T01:45", "2026-04-05T01:45:00+11:00", "5 Apr 2026 01:45 came twice when the clocks were put back; it is taken as the first, 01:45 +11: write 2026-04-05T01:45:00+10:30 for the second"},
		{"Australia/Lord_Howe", "2026-04-05T01:15", "2026-04-05T01:15:00+11:00", ""},
		{"America/New_York", "2026-11-01T01:00", "2026-11-01T01:00:00-04:00", "1 Nov 2026 01:00 came twice when the clocks were put back; it is taken as the first, 01:00 EDT: write 2026-11-01T01:00:00-05:00 for the second"},
		{"UTC", "2026-10-25T02:30", "2026-10-25T02:30:00Z", ""},
		{"Europe/Paris", "2026-11-03t12:09:00z", "2026-11-03T12:09:00Z", ""},
	} {
		zone, err := time.LoadLocation(tc.zone)
		if err != nil {
			t.Fatal(err)
		}
		got, odd, err := parseTime(tc.text, zone)
		if err != nil || got.Format(time.RFC3339) != tc.want || odd != tc.odd {
			t.Errorf("%s, %s:\ngot  %s %q %v\nwant %s %q", tc.zone, tc.text, got.Format(time.RFC3339), odd, err, tc.want, tc.odd)
		}
	}
}
