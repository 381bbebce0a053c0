package calendar

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// byHand writes the same events line by line and folds nothing: what a feed costs at least.
func byHand(f Feed) []byte {
	var b bytes.Buffer
	put := func(name, v string) {
		b.WriteString(name)
		b.WriteByte(':')
		strings.NewReplacer(`\`, `\\`, ";", `\;`, ",", `\,`, "\n", `\n`).WriteString(&b, v)
		b.WriteString("\r\n")
	}
	put("BEGIN", "VCALENDAR")
	put("VERSION", "2.0")
	put("PRODID", productID)
	for _, e := range f.Entries {
		put("BEGIN", "VEVENT")
		put("UID", e.UID)
		put("DTSTAMP", e.ChangedAt.Time().Format("20060102T150405Z"))
		put("DTSTART;TZID="+f.Loc.String(), e.StartsAt.In(f.Loc).Format("20060102T150405"))
		put("DTEND;TZID="+f.Loc.String(), e.EndsAt.In(f.Loc).Format("20060102T150405"))
		put("SEQUENCE", fmt.Sprint(e.Sequence))
		put("SUMMARY", e.Title)
		put("DESCRIPTION", e.Text)
		put("LOCATION", f.Place)
		put("END", "VEVENT")
	}
	put("END", "VCALENDAR")
	return b.Bytes()
}

// BenchmarkFeed is a feed of a thousand events against one written by hand, turn about;
// it prints the median of the pairwise ratios of time with the smallest and the largest:
//
//	go test ./mail/calendar -run '^$' -bench Feed -benchtime 1x
func BenchmarkFeed(b *testing.B) {
	loc, err := time.LoadLocation("America/Chicago")
	if err != nil {
		b.Fatal(err)
	}
	f := Feed{Name: "Corbel Street Butchery", Place: "Corbel Street Butchery", Loc: loc}
	at := unit.DayOf(2026, time.October, 8).At(18, 0, loc)
	for i := range 1000 {
		s := at.Add(time.Duration(i) * 24 * time.Hour)
		f.Entries = append(f.Entries, shop.Entry{UID: fmt.Sprintf("class-%d@corbel.example.test", i), StartsAt: s, EndsAt: s + 10_800, ChangedAt: at,
			Title: "Cure your own bacon", Text: "5 seats left.\nhttps://corbel.example.test/classes/B4"})
	}
	clock := func(write func()) time.Duration {
		t := time.Now()
		for range 20 {
			write()
		}
		return time.Since(t)
	}
	ours := func() time.Duration {
		return clock(func() {
			if _, err := f.Bytes(); err != nil {
				b.Fatal(err)
			}
		})
	}
	floor := func() time.Duration { return clock(func() { byHand(f) }) }
	ours()
	floor()
	for b.Loop() {
		var ratio []float64
		var mine time.Duration
		for range 9 {
			o, h := ours(), floor()
			mine = o / 20
			ratio = append(ratio, o.Seconds()/h.Seconds())
		}
		slices.Sort(ratio)
		b.ReportMetric(ratio[4], "ratio")
		b.ReportMetric(ratio[0], "ratio-min")
		b.ReportMetric(ratio[8], "ratio-max")
		b.ReportMetric(float64(mine.Microseconds())/1000, "ms/feed")
	}
	b.ReportMetric(0, "ns/op")
}
