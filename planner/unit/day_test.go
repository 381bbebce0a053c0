package unit

import (
	"testing"
	"time"
	_ "time/tzdata"

	"pgregory.net/rapid"
)

func chicago(t testing.TB) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

// Nights on which clocks change in America/Chicago. Source: IANA time zone database,
// rule US since 2007 (15 U.S.C. 260a): forward 02:00 on the second Sunday of March,
// back 02:00 on the first Sunday of November.
func TestAtOnChangingNights(t *testing.T) {
	loc := chicago(t)
	for _, row := range []struct {
		what      string
		y         int
		m         time.Month
		d         int
		hour, min int
		want      string // UTC
	}{
		{"before the change back", 2026, 11, 1, 0, 59, "2026-11-01T05:59:00Z"},
		{"twice: the first", 2026, 11, 1, 1, 0, "2026-11-01T06:00:00Z"},
		{"twice: the first, at its end", 2026, 11, 1, 1, 59, "2026-11-01T06:59:00Z"},
		{"after the change back", 2026, 11, 1, 2, 0, "2026-11-01T08:00:00Z"},
		{"17:00 that day", 2026, 11, 1, 17, 0, "2026-11-01T23:00:00Z"},
		{"17:00 the day before", 2026, 10, 31, 17, 0, "2026-10-31T22:00:00Z"},
		{"before the change forward", 2026, 3, 8, 1, 59, "2026-03-08T07:59:00Z"},
		{"skipped: moved on an hour", 2026, 3, 8, 2, 0, "2026-03-08T08:00:00Z"},
		{"skipped: moved on an hour, at its end", 2026, 3, 8, 2, 59, "2026-03-08T08:59:00Z"},
		{"after the change forward", 2026, 3, 8, 3, 0, "2026-03-08T08:00:00Z"},
		{"10:00 that day", 2026, 3, 8, 10, 0, "2026-03-08T15:00:00Z"},
	} {
		day := DayOf(row.y, row.m, row.d)
		at := day.At(row.hour, row.min, loc)
		if at.String() != row.want {
			t.Errorf("%s: %s %02d:%02d is %s, want %s", row.what, day, row.hour, row.min, at, row.want)
		}
		if at.Day(loc) != day {
			t.Errorf("%s: falls on %s", row.what, at.Day(loc))
		}
	}
	// The first of November has 25 hours, the eighth of March 23.
	for _, row := range []struct {
		d    Day
		want time.Duration
	}{{DayOf(2026, 11, 1), 25 * time.Hour}, {DayOf(2026, 3, 8), 23 * time.Hour}, {DayOf(2026, 10, 8), 24 * time.Hour}} {
		if got := (row.d + 1).At(0, 0, loc).Sub(row.d.At(0, 0, loc)); got != row.want {
			t.Errorf("%s has %s", row.d, got)
		}
	}
}

// Any clock time that exists on a day is what that instant's clock shows, and later
// clock times are later instants.
func TestAtShowsItsClock(t *testing.T) {
	loc := chicago(t)
	rapid.Check(t, func(t *rapid.T) {
		d := Day(rapid.Int32Range(14_000, 36_000).Draw(t, "day"))
		h, m := rapid.IntRange(0, 23).Draw(t, "hour"), rapid.IntRange(0, 59).Draw(t, "minute")
		at := d.At(h, m, loc)
		c := at.In(loc)
		if at.Day(loc) != d || c.Minute() != m || c.Hour() != h && c.Hour() != h+1 {
			t.Fatalf("%s %02d:%02d shows %s", d, h, m, at.Show(loc))
		}
		if next := d.At(h, m, loc); m < 59 && d.At(h, m+1, loc) != next+60 {
			t.Fatalf("a minute after %s %02d:%02d is %s", d, h, m, d.At(h, m+1, loc).Show(loc))
		}
	})
}

func TestDays(t *testing.T) {
	d := DayOf(2026, 10, 8)
	if d.String() != "2026-10-08" || d.Show() != "Thu Oct 8" || d.ShowYear() != "Thu Oct 8, 2026" || d.Weekday() != time.Thursday {
		t.Errorf("%s %s %s", d, d.Show(), d.ShowYear())
	}
	if got := d.Monday(); got != DayOf(2026, 10, 5) || got.Monday() != got {
		t.Errorf("Monday of %s is %s", d.Show(), got.Show())
	}
	if got := DayOf(2026, 10, 11).Monday(); got != DayOf(2026, 10, 5) {
		t.Errorf("Monday of Sunday is %s", got.Show())
	}
	// Give-back credits of the house last 24 months; short months end early.
	for _, row := range []struct {
		from string
		n    int
		want string
	}{{"2026-10-16", 24, "2028-10-16"}, {"2024-02-29", 12, "2025-02-28"}, {"2026-08-31", 1, "2026-09-30"}, {"2026-01-31", -1, "2025-12-31"}, {"2026-03-31", -1, "2026-02-28"}} {
		from, err := ParseDay(row.from)
		if got := from.AddMonths(row.n); err != nil || got.String() != row.want {
			t.Errorf("%s + %d months = %s, want %s", row.from, row.n, got, row.want)
		}
	}
	var none Day
	if none.String() != "" || none.Show() != "" || none.ShowYear() != "" {
		t.Error("no day is written as something")
	}
	if v, err := none.Value(); v != nil || err != nil {
		t.Errorf("no day is stored as %v, %v", v, err)
	}
	if v, _ := d.Value(); v != "2026-10-08" {
		t.Errorf("stored as %v", v)
	}
	var back Day
	for _, v := range []any{"2026-10-08", []byte("2026-10-08")} {
		if err := back.Scan(v); err != nil || back != d {
			t.Errorf("Scan(%v) = %s, %v", v, back, err)
		}
	}
	if err := back.Scan(nil); err != nil || back != 0 {
		t.Errorf("Scan(nil) = %s, %v", back, err)
	}
	if back.Scan(7) == nil || back.Scan("soon") == nil {
		t.Error("Scan took a number or a word")
	}
}

func TestInstants(t *testing.T) {
	loc := chicago(t)
	i, err := ParseInstant("2026-10-08T15:30:00-05:00")
	if err != nil || i.String() != "2026-10-08T20:30:00Z" || i.Show(loc) != "Thu Oct 8, 15:30" || i.Clock(loc) != "15:30" || i.Day(loc) != DayOf(2026, 10, 8) {
		t.Errorf("%s %s, %v", i, i.Show(loc), err)
	}
	if InstantOf(i.Time()) != i || InstantOf(i.Time().Add(999*time.Millisecond)) != i {
		t.Error("InstantOf does not cut to seconds")
	}
	if got := i.Add(90 * time.Minute); got.Sub(i) != 90*time.Minute {
		t.Errorf("Add = %s", got)
	}
	var never Instant
	if !never.IsZero() || !never.Time().IsZero() || InstantOf(time.Time{}) != never || never.String() != "" || never.Show(loc) != "" {
		t.Error("never is not never")
	}
}
