package plots

import (
	"bytes"
	"encoding/base64"
	"html"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"regexp"
	"strings"
	"testing"
	"time"

	"evenbeat/analysis"
	"evenbeat/analysis/going"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

func customerPageOf(t *testing.T, in SheetInput) string {
	t.Helper()
	var b bytes.Buffer
	if err := CustomerPage(&b, in); err != nil {
		t.Fatal(err)
	}
	elements(t, b.String())
	return html.UnescapeString(b.String())
}

// jobExample is the example's job: it lost a minute and a half a day before it was cleaned.
func jobExample() SheetInput {
	in := sheetExample()
	at := in.Made.Add(-24 * time.Hour)
	r := &in.Findings.Record
	r.Particulars = []sessions.Particular{{At: at, Name: sessions.Customer, Value: "Mrs Ashdown"}, {At: at, Name: sessions.JobNumber, Value: "2026-114"},
		{At: at, Name: sessions.Complaint, Value: "It stops <at night>."}}
	r.Events = []sessions.Event{{At: at, Kind: sessions.EventCleaned, Text: "all holes pegged out"}, {At: at, Kind: sessions.EventWound}}
	rate := quantity.Value{V: 2, U: 0.1}
	in.Findings.Going = &going.Result{Checks: 9, RateNow: &rate, Segments: []going.Segment{{To: at, Rate: quantity.Value{V: -90, U: 1}}, {From: at, Rate: rate}}}
	wound, by := at, at.Add(7*24*time.Hour)
	in.Winding = analysis.ClockFindings{GoesAtLeastH: 200, LastWound: &wound, WindBy: &by}
	return in
}

// What the customer reads: the own words, the work, before and after, and when to wind,
// with the caution.
func TestCustomerPage(t *testing.T) {
	page := customerPageOf(t, jobExample())
	for _, w := range []string{"for Mrs Ashdown · job 2026-114", "<blockquote>It stops <at night>.</blockquote>", "15 March 2026: cleaned: all holes pegged out",
		"Until 15 March it lost 90.0 ± 2.0 s a day.", "It gains 2.00 ± 0.20 s a day.", "Wind it once a week", "It goes at least 8 days.",
		"It was last wound on 15 March: wind it by Sunday morning, 22 March.", "never let the key slip"} {
		if !strings.Contains(page, w) {
			t.Errorf("%q isn't on the page", w)
		}
	}
	if strings.Contains(page, "wound</li>") {
		t.Error("a winding is told as work")
	}
	empty := customerPageOf(t, SheetInput{})
	for _, w := range []string{"Nothing was noted.", "No work is noted yet.", "It was not measured before the work.", "That was not measured yet."} {
		if !strings.Contains(empty, w) {
			t.Errorf("of nothing: %q isn't on the page", w)
		}
	}
}

// The customer is told a morning or an evening that is over before the clock may stop.
func TestCustomerWindsInTime(t *testing.T) {
	zone := time.FixedZone("", 3600)
	wound := time.Date(2026, 3, 9, 8, 0, 0, 0, zone)
	for _, tt := range []struct {
		by   time.Time
		want string
	}{
		{time.Date(2026, 3, 17, 4, 31, 0, 0, zone), "Monday evening, 16 March"},
		{time.Date(2026, 3, 17, 11, 59, 59, 0, zone), "Monday evening, 16 March"},
		{time.Date(2026, 3, 17, 12, 0, 0, 0, zone), "Tuesday morning, 17 March"},
		{time.Date(2026, 3, 17, 23, 59, 0, 0, zone), "Tuesday morning, 17 March"},
		{time.Date(2026, 3, 16, 23, 30, 0, 0, time.UTC), "Monday evening, 16 March"}, // half past midnight in the zone
		{time.Date(2026, 3, 10, 14, 0, 0, 0, zone), "Tuesday morning, 10 March"},
		{time.Date(2026, 3, 9, 15, 0, 0, 0, zone), "Monday morning, 9 March"},
		{time.Date(2026, 3, 9, 11, 0, 0, 0, zone), "Monday, 9 March, 11:00"},
	} {
		if got := windByWords(wound, tt.by, zone); got != tt.want {
			t.Errorf("may stop at %v: by %q, want %q", tt.by, got, tt.want)
		}
	}
}

// Of much work the page has the newest, and says that there is more.
func TestCustomerPageStaysOne(t *testing.T) {
	in := jobExample()
	in.Findings.Record.Events = nil
	for i := range 20 {
		in.Findings.Record.Events = append(in.Findings.Record.Events, sessions.Event{At: in.Made.AddDate(0, 0, i-30), Kind: sessions.EventBushed, Text: strings.Repeat("hole ", 60)})
	}
	page := customerPageOf(t, in)
	if n := strings.Count(page, "worn holes bushed"); n != 6 || !strings.Contains(page, "and 14 earlier entries") || strings.Contains(page, strings.Repeat("hole ", 23)) {
		t.Errorf("%d entries of work, or one that is too long", n)
	}
}

// Photographs are embedded, small and upright, on both pages; a missing one is told.
func TestPhotos(t *testing.T) {
	big := image.NewRGBA(image.Rect(0, 0, 3000, 1500))
	for y := range 1500 {
		for x := range 1500 {
			big.Set(x, y, color.RGBA{R: 255, A: 255})
		}
	}
	var asPNG, asJPEG bytes.Buffer
	if err := png.Encode(&asPNG, big); err != nil {
		t.Fatal(err)
	}
	if err := jpeg.Encode(&asJPEG, big, nil); err != nil {
		t.Fatal(err)
	}
	// A camera held upright: the left of the picture is its top.
	exif := []byte("\xff\xe1\x00\x22Exif\x00\x00MM\x00\x2a\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01\x00\x06\x00\x00\x00\x00\x00\x00")
	held := append(append(append([]byte(nil), asJPEG.Bytes()[:2]...), exif...), asJPEG.Bytes()[2:]...)
	in := jobExample()
	in.Photos = []Photo{{"dial.png", asPNG.Bytes()}, {"back.jpg", held}, {"gone.jpg", nil}}
	page := mustSheet(t, in)
	srcs := regexp.MustCompile(`src="data:image/jpeg;base64,([^"]+)"`).FindAllStringSubmatch(page, -1)
	if len(srcs) != 2 || !strings.Contains(page, "gone.jpg is missing") {
		t.Fatalf("%d photographs on the sheet", len(srcs))
	}
	for i, want := range []image.Point{{1000, 500}, {500, 1000}} {
		data, err := base64.StdEncoding.DecodeString(html.UnescapeString(srcs[i][1]))
		if err != nil {
			t.Fatal(err)
		}
		pic, err := jpeg.Decode(bytes.NewReader(data))
		if err != nil || pic.Bounds().Size() != want {
			t.Fatalf("photograph %d: %v, %v", i, pic.Bounds(), err)
		}
		if r, _, b, _ := pic.At(10, 10).RGBA(); r < 0xe000 || b > 0x3000 {
			t.Errorf("photograph %d: its red half is elsewhere", i)
		}
	}
	if n := strings.Count(customerPageOf(t, in), `src="data:`); n != 2 {
		t.Errorf("%d photographs on the customer's page", n)
	}
}

// Whatever bytes a photograph begins with, its orientation is one.
func FuzzOrientation(f *testing.F) {
	f.Add([]byte("Exif\x00\x00MM\x00\x2a\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01\x00\x06\x00\x00"))
	f.Add([]byte("Exif\x00\x00II\x2a\x00\xff\xff\xff\xff"))
	f.Fuzz(func(t *testing.T, data []byte) { orientation(data) })
}
