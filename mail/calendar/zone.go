package calendar

import (
	"fmt"
	"time"

	"github.com/emersion/go-ical"

	"flitchbook/planner/unit"
)

const localLayout = "20060102T150405"

// addZone writes the VTIMEZONE that moments between from and to need: one observance
// for each stretch of one offset in the whole years they lie in, taken from the zone's
// own table rather than from a rule somebody typed.
func addZone(cal *ical.Calendar, loc *time.Location, from, to unit.Instant) error {
	if loc == nil || loc.String() == "Local" {
		return fmt.Errorf("calendar: the zone has no name of the zone database")
	}
	first := time.Date(from.In(loc).Year(), 1, 1, 0, 0, 0, 0, loc)
	end := time.Date(to.In(loc).Year()+1, 1, 1, 0, 0, 0, 0, loc)
	zone := ical.NewComponent(ical.CompTimezone)
	zone.Props.SetText(ical.PropTimezoneID, loc.String())
	for t := first; t.Before(end); {
		start, next := t.ZoneBounds()
		zone.Children = append(zone.Children, observance(t, start))
		if next.IsZero() {
			break
		}
		t = next
	}
	cal.Children = append(cal.Children, zone)
	return nil
}

// observance is the stretch that t lies in and that began at start (zero: for ever).
// Its DTSTART is the onset on the clocks of the offset before it (RFC 5545, 3.6.5).
func observance(t, start time.Time) *ical.Component {
	name, to := t.Zone()
	from, onset := to, "19700101T000000"
	if !start.IsZero() {
		_, from = start.Add(-time.Second).Zone()
		onset = start.UTC().Add(time.Duration(from) * time.Second).Format(localLayout)
	}
	kind := ical.CompTimezoneStandard
	if daylight(t, start) {
		kind = ical.CompTimezoneDaylight
	}
	o := ical.NewComponent(kind)
	raw(o, ical.PropDateTimeStart, onset)
	raw(o, ical.PropTimezoneOffsetFrom, offset(from))
	raw(o, ical.PropTimezoneOffsetTo, offset(to))
	raw(o, ical.PropTimezoneName, name)
	return o
}

// daylight says whether the stretch is to be called DAYLIGHT: the one with the clocks
// ahead. The zone database calls winter in Dublin and Ramadan in Casablanca the "saving"
// time, with the clocks behind; calendar programs do not expect that.
func daylight(t, start time.Time) bool {
	if start.IsZero() {
		return t.IsDST()
	}
	before := start.Add(-time.Second)
	if before.IsDST() == t.IsDST() {
		return t.IsDST()
	}
	_, was := before.Zone()
	_, is := t.Zone()
	return is > was
}

func raw(c *ical.Component, name, value string) {
	p := ical.NewProp(name)
	p.Value = value
	c.Props.Set(p)
}

// offset writes seconds east of UTC as "+0530", with seconds where a zone has them.
func offset(sec int) string {
	sign := '+'
	if sec < 0 {
		sign, sec = '-', -sec
	}
	s := fmt.Sprintf("%c%02d%02d", sign, sec/3600, sec/60%60)
	if sec%60 != 0 {
		s += fmt.Sprintf("%02d", sec%60)
	}
	return s
}

// moment writes an instant on the clocks of loc. When the clocks go back an hour comes
// twice, and a local time means the first of the two (RFC 5545, 3.3.5): the second can
// only be said in UTC.
func moment(prop string, i unit.Instant, loc *time.Location) *ical.Prop {
	p := ical.NewProp(prop)
	t := i.In(loc)
	if loc.String() == "UTC" || comesAgain(t) {
		p.SetDateTime(i.Time())
		return p
	}
	p.Params.Set(ical.PropTimezoneID, loc.String())
	p.Value = t.Format(localLayout)
	return p
}

// comesAgain says whether the clocks have shown t's time once before.
func comesAgain(t time.Time) bool {
	start, _ := t.ZoneBounds()
	if start.IsZero() {
		return false
	}
	_, before := start.Add(-time.Second).Zone()
	_, now := t.Zone()
	return before > now && t.Sub(start) < time.Duration(before-now)*time.Second
}
