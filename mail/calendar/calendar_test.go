package calendar_test

import (
	"bytes"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"flitchbook/api/shop"
	"flitchbook/mail/calendar"
	"flitchbook/mail/calendar/calendartest"
	"flitchbook/planner/unit"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

func day(s string) unit.Day {
	d, err := unit.ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
}

// The clocks of the demo shop go back on Sun 2026-11-01 at 02:00: daylight time ends
// on the first Sunday of November (15 U.S.C. 260a, as amended 2005). A class at 14:00
// is at 19:00 UTC the day before and at 20:00 UTC a week later.
func TestFeedAcrossTheClockChange(t *testing.T) {
	loc := zone(t, "America/Chicago")
	entry := func(uid, on string, hour, min, seq int) shop.Entry {
		at := day(on).At(hour, min, loc)
		return shop.Entry{UID: uid, StartsAt: at, EndsAt: at.Add(150 * time.Minute), Title: "Bacon; class, one\\two", Text: "Line one\r\nline two\rline three", Sequence: seq, ChangedAt: day("2026-10-05").At(9, 0, loc)}
	}
	f := calendar.Feed{Name: "Corbel Street Butchery", Place: "Corbel Street, Pellow Crossing", Loc: loc, Entries: []shop.Entry{
		entry("class-4@x.example.test", "2026-10-31", 14, 0, 0),
		entry("class-5@x.example.test", "2026-11-07", 14, 0, 3),
		entry("night@x.example.test", "2026-10-31", 23, 30, 1),
		{UID: "ready-28@x.example.test", Day: day("2026-11-21"), Title: "Bacon ready about", Sequence: 1, ChangedAt: 1_790_000_000},
		{UID: "off@x.example.test", Day: day("2027-04-01"), Title: "Closed", Cancelled: true, Sequence: 2, ChangedAt: 1_790_000_000},
	}}
	b, err := f.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	got := calendartest.Read(t, b)
	want := []calendartest.Event{
		{UID: "class-4@x.example.test", Start: "2026-10-31T19:00:00Z", End: "2026-10-31T21:30:00Z", Sequence: 0, Status: "CONFIRMED"},
		{UID: "class-5@x.example.test", Start: "2026-11-07T20:00:00Z", End: "2026-11-07T22:30:00Z", Sequence: 3, Status: "CONFIRMED"},
		// 23:30 CDT is 04:30 UTC; 150 minutes later, at 07:00 UTC, the clocks show 01:00 for the second time.
		{UID: "night@x.example.test", Start: "2026-11-01T04:30:00Z", End: "2026-11-01T07:00:00Z", Sequence: 1, Status: "CONFIRMED"},
		{UID: "ready-28@x.example.test", Start: "2026-11-21", End: "2026-11-22", Sequence: 1, Status: "CONFIRMED"},
		{UID: "off@x.example.test", Start: "2027-04-01", End: "2027-04-02", Sequence: 2, Status: "CANCELLED"},
	}
	if len(got) != len(want) {
		t.Fatalf("%d entries, want %d", len(got), len(want))
	}
	for i, w := range want {
		g := got[i]
		if g.UID != w.UID || g.Start != w.Start || g.End != w.End || g.Sequence != w.Sequence || g.Status != w.Status {
			t.Errorf("entry %d: %+v, want %+v", i, g, w)
		}
	}
	if got[0].Description != "Line one\nline two\nline three" || got[0].Summary != "Bacon; class, one\\two" {
		t.Errorf("text came back as %q, %q", got[0].Description, got[0].Summary)
	}
	for _, want := range []string{
		"DTSTART;TZID=America/Chicago:20261107T140000\r\n",
		"BEGIN:STANDARD\r\nDTSTART:20261101T020000\r\nTZNAME:CST\r\nTZOFFSETFROM:-0500\r\nTZOFFSETTO:-0600\r\nEND:STANDARD\r\n",
		"BEGIN:DAYLIGHT\r\nDTSTART:20260308T020000\r\nTZNAME:CDT\r\nTZOFFSETFROM:-0600\r\nTZOFFSETTO:-0500\r\nEND:DAYLIGHT\r\n",
		"DTEND:20261101T070000Z\r\n", // the hour that comes twice
	} {
		if !strings.Contains(string(b), want) {
			t.Errorf("the file lacks %q:\n%s", want, b)
		}
	}
	again, err := f.Bytes()
	if err != nil || !bytes.Equal(b, again) {
		t.Errorf("the same feed gave other bytes, %v", err)
	}
}

// TestZonesOfTheWorld lets the outside reader, which knows only our VTIMEZONE, find
// the instants back that Go's zone table gave: zones with winter and summer the other
// way round, half hours, one that keeps "negative" daylight time, one that skipped a
// day, one that suspends daylight time for a month, fixed ones.
func TestZonesOfTheWorld(t *testing.T) {
	for _, name := range []string{
		"America/Chicago", "Europe/Dublin", "Europe/Berlin", "Australia/Lord_Howe", "Asia/Kolkata", "America/St_Johns",
		"Pacific/Apia", "Africa/Casablanca", "America/Sao_Paulo", "Asia/Tokyo", "Pacific/Chatham", "UTC", "Etc/GMT+5",
	} {
		loc := zone(t, name)
		var in []shop.Entry
		for _, year := range []int{2011, 2026, 2027} {
			for d := unit.DayOf(year, 1, 1); d < unit.DayOf(year, 12, 31); d += 9 {
				for _, hour := range []int{0, 1, 2, 14} {
					at := d.At(hour, 30, loc)
					in = append(in, shop.Entry{UID: at.String(), StartsAt: at, EndsAt: at.Add(time.Hour), Title: "x", ChangedAt: at})
				}
			}
		}
		b, err := calendar.Feed{Name: name, Loc: loc, Entries: in}.Bytes()
		if err != nil {
			t.Fatal(name, err)
		}
		for _, e := range calendartest.Read(t, b) {
			if e.Start != e.UID {
				t.Errorf("%s: %s was read as %s", name, e.UID, e.Start)
			}
		}
	}
}

func TestEmptyFeedIsACalendar(t *testing.T) {
	b, err := calendar.Feed{Name: "Kitchen", Loc: zone(t, "America/Chicago"), Around: day("2026-10-05")}.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	if got := calendartest.Read(t, b); len(got) != 0 {
		t.Errorf("%+v", got)
	}
}

func TestInvitation(t *testing.T) {
	loc := zone(t, "America/Chicago")
	inv := shop.Invite{UID: "class-5@x.example.test", Sequence: 2, Title: "Bacon-curing class", Text: "Closed shoes.", StartsAt: day("2026-11-07").At(14, 0, loc), EndsAt: day("2026-11-07").At(16, 30, loc)}
	from, to := calendar.Person{Name: `The "Corbel" Butchery, Pellow`, Mail: "hello@corbel.example.test"}, calendar.Person{Name: "Nerys D.", Mail: "nerys@mail.example.test"}
	for _, cancel := range []bool{false, true} {
		inv.Cancel = cancel
		b, err := calendar.Invitation(inv, day("2026-10-20").At(20, 10, loc), "Corbel Street", from, to, loc)
		if err != nil {
			t.Fatal(err)
		}
		got := calendartest.Read(t, b)
		method, status := "REQUEST", "CONFIRMED"
		if cancel {
			method, status = "CANCEL", "CANCELLED"
		}
		if len(got) != 1 || got[0].Method != method || got[0].Status != status || got[0].Sequence != 2 || got[0].Start != "2026-11-07T20:00:00Z" {
			t.Errorf("%+v", got)
		}
		// RFC 5546, 3.2.2 and 3.2.5: what a REQUEST and a CANCEL must carry.
		unfolded := strings.ReplaceAll(string(b), "\r\n ", "")
		for _, want := range []string{"METHOD:" + method, "DTSTAMP:20261021T011000Z", "UID:class-5@x.example.test", "SEQUENCE:2", "ORGANIZER;CN=\"The 'Corbel' Butchery, Pellow\":mailto:hello@corbel.example.test", ":mailto:nerys@mail.example.test"} {
			if !strings.Contains(unfolded, want+"\r\n") {
				t.Errorf("no %q in\n%s", want, unfolded)
			}
		}
	}
}

// Nobody may write properties of their own through a name, an address or a text.
func TestInvitationRefusesLineEnds(t *testing.T) {
	loc := zone(t, "America/Chicago")
	inv := shop.Invite{UID: "u@x.example.test", Title: "T\r\nATTACH:http://evil.example.test", Text: "a\rATTACH:b\nATTACH:c", StartsAt: 1_800_000_000, EndsAt: 1_800_003_600}
	good := calendar.Person{Name: "Nerys", Mail: "n@mail.example.test"}
	for _, bad := range []calendar.Person{
		{Name: "Nerys\r\nATTENDEE:mailto:x@evil.example.test", Mail: "n@mail.example.test"},
		{Name: "Nerys", Mail: "n@mail.example.test\r\nATTACH:x"},
		{Name: "Nerys", Mail: "n@mail.example.test\nX:1"},
		{Name: "Nerys", Mail: "n @mail.example.test"},
		{Name: "Nerys"},
	} {
		if b, err := calendar.Invitation(inv, 1, "", good, bad, loc); err == nil {
			t.Errorf("%+v went through:\n%s", bad, b)
		}
		if _, err := calendar.Invitation(inv, 1, "", bad, good, loc); err == nil {
			t.Errorf("organizer %+v went through", bad)
		}
	}
	b, err := calendar.Invitation(inv, 1, "", good, good, loc)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(b), "\nATTACH") {
		t.Errorf("a title wrote a property:\n%s", b)
	}
	calendartest.Read(t, b)
}

func TestRefusals(t *testing.T) {
	loc := zone(t, "America/Chicago")
	if _, err := (calendar.Feed{Name: "x", Loc: time.Local}).Bytes(); err == nil && time.Local.String() == "Local" {
		t.Error("a zone without a name went through")
	}
	if _, err := (calendar.Feed{Name: "x"}).Bytes(); err == nil {
		t.Error("a feed without a zone went through")
	}
	if _, err := calendar.File(shop.Entry{UID: "u"}, "", loc); err == nil {
		t.Error("an entry without a time went through")
	}
	if _, err := calendar.Invitation(shop.Invite{UID: "u"}, 1, "", calendar.Person{Mail: "a@b.test"}, calendar.Person{Mail: "a@b.test"}, loc); err == nil {
		t.Error("an invitation without a start went through")
	}
}

func FuzzText(f *testing.F) {
	loc := zone(f, "America/Chicago")
	for _, s := range []string{"plain", strings.Repeat("é", 60), strings.Repeat("🥓", 40), "a\r\nb\rc\nd", "\\;,\"", "\x00\x1b\xff\xfe", strings.Repeat("x", 74) + "é", "BEGIN:VEVENT"} {
		f.Add(s, s)
	}
	f.Fuzz(func(t *testing.T, title, text string) {
		b, err := calendar.File(shop.Entry{UID: "u@x.example.test", Day: 20_000, Title: title, Text: text, ChangedAt: 1}, "", loc)
		if err != nil {
			t.Fatal(err)
		}
		got := calendartest.ReadGo(t, b)
		if len(got) != 1 || got[0].Summary != calendar.Clean(title) || got[0].Description != calendar.Clean(text) {
			t.Fatalf("%q, %q came back as %+v", title, text, got)
		}
	})
}
