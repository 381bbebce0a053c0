package unit

import (
	"database/sql/driver"
	"fmt"
	"strings"
	"time"
)

// Day is a calendar date without clock or zone, counted in days from 1970-01-01,
// for kill days, seal days and order-bys. The zero Day means "none": the shop was
// not open on the first of January 1970. In the database it is text, 2026-10-08,
// or NULL for none.
type Day int32

const dayLayout = "2006-01-02"

// DayOf returns the date y-m-d; out-of-range values roll over as time.Date does.
func DayOf(y int, m time.Month, d int) Day {
	return Day(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// DayIn returns the date that t falls on in loc.
func DayIn(t time.Time, loc *time.Location) Day {
	y, m, d := t.In(loc).Date()
	return DayOf(y, m, d)
}

// ParseDay reads 2026-10-08.
func ParseDay(s string) (Day, error) {
	t, err := time.Parse(dayLayout, strings.TrimSpace(s))
	if err != nil {
		return 0, &ParseError{Want: `a date, such as "2026-10-08"`, Got: s}
	}
	return Day(t.Unix() / 86400), nil
}

func (d Day) utc() time.Time { return time.Unix(int64(d)*86400, 0).UTC() }

// At returns the instant of hour:min on d in loc. A clock time that a
// daylight-saving night skips moves forward by the hour skipped; one that comes
// twice is the first.
func (d Day) At(hour, min int, loc *time.Location) Instant {
	y, m, dd := d.utc().Date()
	// time.Date promises neither choice; hold to the rule above. The clock time is
	// read once with the offset in force the day before and once with the day after's.
	wall := time.Date(y, m, dd, hour, min, 0, 0, time.UTC)
	_, before := wall.Add(-26 * time.Hour).In(loc).Zone()
	_, after := wall.Add(26 * time.Hour).In(loc).Zone()
	first := wall.Add(-time.Duration(before) * time.Second)
	if shows(first, wall, loc) {
		return InstantOf(first)
	}
	if second := wall.Add(-time.Duration(after) * time.Second); shows(second, wall, loc) {
		return InstantOf(second)
	}
	return InstantOf(first) // skipped: the old offset lands as much later as was skipped
}

// shows says whether the clocks of loc show wall at t.
func shows(t, wall time.Time, loc *time.Location) bool {
	return t.In(loc).Format(time.DateTime) == wall.Format(time.DateTime)
}

// Weekday of the date.
func (d Day) Weekday() time.Weekday { return d.utc().Weekday() }

// Month and Year of the date.
func (d Day) Month() time.Month { return d.utc().Month() }

// Year of the date.
func (d Day) Year() int { return d.utc().Year() }

// Monday returns the Monday of the date's week.
func (d Day) Monday() Day { return d - Day((int(d.Weekday())+6)%7) }

// AddMonths returns the same day n months later, or the last day of that month.
func (d Day) AddMonths(n int) Day {
	y, m, dd := d.utc().Date()
	first := time.Date(y, m+time.Month(n), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	if dd > last {
		dd = last
	}
	return DayOf(first.Year(), first.Month(), dd)
}

// String writes 2026-10-08, or "" for none.
func (d Day) String() string {
	if d == 0 {
		return ""
	}
	return d.utc().Format(dayLayout)
}

// Show writes the date with its weekday for people: "Thu Oct 8". A date is never
// shown without its weekday.
func (d Day) Show() string {
	if d == 0 {
		return ""
	}
	return d.utc().Format("Mon Jan 2")
}

// ShowYear writes "Thu Oct 8, 2026".
func (d Day) ShowYear() string {
	if d == 0 {
		return ""
	}
	return d.utc().Format("Mon Jan 2, 2006")
}

// MarshalText writes String.
func (d Day) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads what ParseDay reads; "" is none.
func (d *Day) UnmarshalText(b []byte) (err error) {
	if len(b) == 0 {
		*d = 0
		return nil
	}
	*d, err = ParseDay(string(b))
	return err
}

// Value stores the date as text, none as NULL.
func (d Day) Value() (driver.Value, error) {
	if d == 0 {
		return nil, nil
	}
	return d.String(), nil
}

// Scan reads what Value wrote.
func (d *Day) Scan(v any) error {
	switch v := v.(type) {
	case nil:
		*d = 0
		return nil
	case string:
		return d.UnmarshalText([]byte(v))
	case []byte:
		return d.UnmarshalText(v)
	}
	return fmt.Errorf("unit: a day cannot be read from %T", v)
}
