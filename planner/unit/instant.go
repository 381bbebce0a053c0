package unit

import "time"

// Instant is a moment in seconds since 1970-01-01 00:00 UTC. The zero Instant
// means "never". In the database it is a whole number, so that ranges, maxima
// and comparisons mean the same on every database.
type Instant int64

// InstantOf cuts t to whole seconds.
func InstantOf(t time.Time) Instant {
	if t.IsZero() {
		return 0
	}
	return Instant(t.Unix())
}

// ParseInstant reads RFC 3339: "2026-10-08T15:30:00-05:00".
func ParseInstant(s string) (Instant, error) {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return 0, &ParseError{Want: `a moment, such as "2026-10-08T15:30:00-05:00"`, Got: s}
	}
	return InstantOf(t), nil
}

// Time returns the instant in UTC; the zero Instant gives the zero time.
func (i Instant) Time() time.Time {
	if i == 0 {
		return time.Time{}
	}
	return time.Unix(int64(i), 0).UTC()
}

// In returns the instant on the clocks of loc.
func (i Instant) In(loc *time.Location) time.Time { return time.Unix(int64(i), 0).In(loc) }

// Day is the date of the instant in loc.
func (i Instant) Day(loc *time.Location) Day { return DayIn(i.In(loc), loc) }

// Add returns the instant d later, cut to seconds.
func (i Instant) Add(d time.Duration) Instant { return i + Instant(d/time.Second) }

// Sub returns the time from o to i.
func (i Instant) Sub(o Instant) time.Duration { return time.Duration(i-o) * time.Second }

// IsZero says whether the instant is "never".
func (i Instant) IsZero() bool { return i == 0 }

// String writes RFC 3339 in UTC, or "" for never.
func (i Instant) String() string {
	if i == 0 {
		return ""
	}
	return i.Time().Format(time.RFC3339)
}

// Show writes the instant for people in loc: "Thu Oct 8, 15:30".
func (i Instant) Show(loc *time.Location) string {
	if i == 0 {
		return ""
	}
	return i.In(loc).Format("Mon Jan 2, 15:04")
}

// Clock writes the hour and minute in loc: "20:31".
func (i Instant) Clock(loc *time.Location) string { return i.In(loc).Format("15:04") }

// MarshalText writes String.
func (i Instant) MarshalText() ([]byte, error) { return []byte(i.String()), nil }

// UnmarshalText reads what ParseInstant reads; "" is never.
func (i *Instant) UnmarshalText(b []byte) (err error) {
	if len(b) == 0 {
		*i = 0
		return nil
	}
	*i, err = ParseInstant(string(b))
	return err
}
