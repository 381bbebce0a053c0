// Package calendartest reads a calendar file with two readers that know nothing of how
// it was written, and fails the test when they disagree: emersion/go-ical with Go's own
// zone table, and the icalendar package of Debian's Python with nothing but the
// VTIMEZONE in the file.
package calendartest

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"slices"
	"testing"
	"time"

	"github.com/emersion/go-ical"
)

// Event is what both readers saw of one VEVENT. Start and End are in UTC
// ("2026-11-07T20:00:00Z") or, for an all-day entry, a date.
type Event struct {
	Method, UID, Summary, Description, Status string
	Sequence                                  int
	Start, End                                string
}

//go:embed read.py
var script string

// python is Debian's own: the package python3-icalendar belongs to it.
const python = "/usr/bin/python3"

// Read returns the entries of a file in its order.
func Read(t *testing.T, file []byte) []Event {
	t.Helper()
	lines(t, file)
	first := ReadGo(t, file)
	cmd := exec.Command(python, "-c", script)
	cmd.Stdin = bytes.NewReader(file)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if errors.Is(err, fs.ErrNotExist) || bytes.Contains(stderr.Bytes(), []byte("ModuleNotFoundError")) {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s cannot import icalendar (Debian: python3-icalendar): in CI the outside reader may not be left out", python)
		}
		t.Logf("NOT CHECKED by an outside calendar reader: %s cannot import icalendar (Debian: python3-icalendar)", python)
		return first
	}
	if err != nil {
		t.Fatalf("the outside reader refused the file: %v\n%s\n%s", err, stderr.Bytes(), file)
	}
	var second []Event
	if err := json.Unmarshal(out, &second); err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(first, second) {
		for i := range min(len(first), len(second)) {
			if first[i] != second[i] {
				t.Fatalf("two readers disagree on entry %d:\n%+v\n%+v\n%.4000s", i, first[i], second[i], file)
			}
		}
		t.Fatalf("one reader sees %d entries, the other %d", len(first), len(second))
	}
	return first
}

// lines holds every line to RFC 5545, 3.1: CRLF, at most 75 octets.
func lines(t *testing.T, file []byte) {
	t.Helper()
	if !bytes.HasSuffix(file, []byte("\r\n")) {
		t.Fatal("the file does not end with a line end")
	}
	for _, l := range bytes.Split(bytes.TrimSuffix(file, []byte("\r\n")), []byte("\r\n")) {
		if len(l) > 75 || bytes.ContainsAny(l, "\r\n") || len(l) == 0 {
			t.Fatalf("bad line of %d octets: %q", len(l), l)
		}
	}
}

// ReadGo reads with the first of the two readers alone: for many small files.
func ReadGo(t *testing.T, file []byte) []Event {
	t.Helper()
	lines(t, file)
	t.Helper()
	d := ical.NewDecoder(bytes.NewReader(file))
	cal, err := d.Decode()
	if err != nil {
		t.Fatalf("go-ical: %v\n%s", err, file)
	}
	if _, err := d.Decode(); !errors.Is(err, io.EOF) {
		t.Fatalf("go-ical: more than one calendar, or rubbish after it: %v", err)
	}
	text := func(c *ical.Component, name string) string {
		s, err := c.Props.Text(name)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	when := func(c *ical.Component, name string) string {
		p := c.Props.Get(name)
		if p == nil {
			return ""
		}
		at, err := p.DateTime(time.UTC)
		if err != nil {
			t.Fatal(err)
		}
		if p.ValueType() == ical.ValueDate {
			return at.Format("2006-01-02")
		}
		// A time that comes twice is the first of the two (RFC 5545, 3.3.5); the
		// time package promises neither.
		for _, d := range []time.Duration{30 * time.Minute, time.Hour, 2 * time.Hour} {
			if e := at.Add(-d); e.Format(time.DateTime) == at.Format(time.DateTime) {
				at = e
				break
			}
		}
		return at.UTC().Format(time.RFC3339)
	}
	out := []Event{}
	for _, e := range cal.Events() {
		n, err := e.Props.Get(ical.PropSequence).Int()
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, Event{
			Method: text(cal.Component, ical.PropMethod), UID: text(e.Component, ical.PropUID),
			Summary: text(e.Component, ical.PropSummary), Description: text(e.Component, ical.PropDescription),
			Status: text(e.Component, ical.PropStatus), Sequence: n,
			Start: when(e.Component, ical.PropDateTimeStart), End: when(e.Component, ical.PropDateTimeEnd),
		})
	}
	return out
}
