// Package calendar writes iCalendar files (RFC 5545): subscribed feeds, single entries
// to keep, and invitations (RFC 5546). It knows the shop's words and its zone, nothing
// else, so that both doors may use it: mail for invitations, frontend for feeds.
//
// An entry keeps its UID for life and is written with the SEQUENCE it is given. Times
// stand on the shop's clocks with a TZID and a VTIMEZONE written from the zone's own
// rules, so that a calendar program without a zone table reads them right across a
// clock change.
package calendar

import (
	"fmt"
	"time"

	"github.com/emersion/go-ical"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// productID names the program that wrote the file.
const productID = "-//Flitchbook//Calendar//EN"

// Person is somebody named in an invitation.
type Person struct{ Name, Mail string }

// Feed is a subscribed calendar.
type Feed struct {
	Name    string         // shown by calendar programs
	Place   string         // where everything with a time happens; "" for none
	Loc     *time.Location // the shop's zone
	Entries []shop.Entry
	Around  unit.Day // a day of the span in which an empty feed stands, so that it is still a calendar
}

// Bytes writes the feed. The same feed gives the same bytes.
func (f Feed) Bytes() ([]byte, error) {
	cal := newCalendar("")
	setText(cal.Props, "NAME", f.Name)         // RFC 7986
	setText(cal.Props, "X-WR-CALNAME", f.Name) // the same for older programs
	cal.Props.Get("X-WR-CALNAME").Params.Del(ical.ParamValue)
	every := ical.NewProp(ical.PropRefreshInterval)               // RFC 7986; programs refresh when they like all the same
	every.Params.Set(ical.ParamValue, string(ical.ValueDuration)) // it has no default type
	every.Value = "PT1H"
	cal.Props.Set(every)
	if err := addEvents(cal, f.Loc, f.Place, f.Entries, f.Around); err != nil {
		return nil, err
	}
	return encode(cal)
}

// File is one entry to keep in one's own calendar.
func File(e shop.Entry, place string, loc *time.Location) ([]byte, error) {
	cal := newCalendar("PUBLISH")
	if err := addEvents(cal, loc, place, []shop.Entry{e}, 0); err != nil {
		return nil, err
	}
	return encode(cal)
}

// Method is the iTIP method of an invitation: it must stand in the file and in the
// MIME type alike, or mail programs ignore the invitation (RFC 6047, 2.4).
func Method(inv shop.Invite) string {
	if inv.Cancel {
		return "CANCEL"
	}
	return "REQUEST"
}

// Invitation writes a REQUEST, or a CANCEL, from the shop to one guest. written is when
// the news was written down (DTSTAMP): the same notice gives the same bytes.
func Invitation(inv shop.Invite, written unit.Instant, place string, from, to Person, loc *time.Location) ([]byte, error) {
	if inv.UID == "" || inv.StartsAt == 0 {
		return nil, fmt.Errorf("calendar: an invitation needs a UID and a start")
	}
	cal := newCalendar(Method(inv))
	e := shop.Entry{UID: inv.UID, StartsAt: inv.StartsAt, EndsAt: inv.EndsAt, Title: inv.Title, Text: inv.Text,
		Cancelled: inv.Cancel, Sequence: inv.Sequence, ChangedAt: written}
	ev, err := event(e, place, loc)
	if err != nil {
		return nil, err
	}
	org, err := person(ical.PropOrganizer, from)
	if err != nil {
		return nil, err
	}
	guest, err := person(ical.PropAttendee, to)
	if err != nil {
		return nil, err
	}
	// They booked, so they have said yes; nobody reads their answer.
	guest.Params.Set("ROLE", "REQ-PARTICIPANT")
	guest.Params.Set("PARTSTAT", "ACCEPTED")
	guest.Params.Set("RSVP", "FALSE")
	ev.Props.Set(org)
	ev.Props.Set(guest)
	if err := addZone(cal, loc, inv.StartsAt, max(inv.StartsAt, inv.EndsAt)); err != nil {
		return nil, err
	}
	cal.Children = append(cal.Children, ev)
	return encode(cal)
}

func newCalendar(method string) *ical.Calendar {
	cal := ical.NewCalendar()
	cal.Props.SetText(ical.PropVersion, "2.0")
	cal.Props.SetText(ical.PropProductID, productID)
	cal.Props.SetText(ical.PropCalendarScale, "GREGORIAN")
	if method != "" {
		cal.Props.SetText(ical.PropMethod, method)
	}
	return cal
}

// addEvents writes the zone for the span of the entries, then the entries.
func addEvents(cal *ical.Calendar, loc *time.Location, place string, entries []shop.Entry, around unit.Day) error {
	if loc == nil {
		return fmt.Errorf("calendar: no zone given")
	}
	var first, last unit.Instant
	for _, e := range entries {
		from, to := e.StartsAt, max(e.StartsAt, e.EndsAt)
		if e.Day != 0 {
			from = e.Day.At(12, 0, loc)
			to = from
		}
		if first == 0 || from < first {
			first = from
		}
		last = max(last, to)
	}
	if len(entries) == 0 {
		first = around.At(12, 0, loc)
		last = first
	}
	if err := addZone(cal, loc, first, last); err != nil {
		return err
	}
	for _, e := range entries {
		ev, err := event(e, place, loc)
		if err != nil {
			return err
		}
		cal.Children = append(cal.Children, ev)
	}
	return nil
}

// event writes one entry: all-day when it names a day, else timed.
func event(e shop.Entry, place string, loc *time.Location) (*ical.Component, error) {
	if loc == nil {
		return nil, fmt.Errorf("calendar: no zone given")
	}
	ev := ical.NewComponent(ical.CompEvent)
	setText(ev.Props, ical.PropUID, e.UID)
	stamp := e.ChangedAt.Time()
	ev.Props.SetDateTime(ical.PropDateTimeStamp, stamp)
	ev.Props.SetDateTime(ical.PropLastModified, stamp)
	seq := ical.NewProp(ical.PropSequence)
	seq.Value = fmt.Sprint(e.Sequence)
	ev.Props.Set(seq)
	setText(ev.Props, ical.PropSummary, e.Title)
	if e.Text != "" {
		setText(ev.Props, ical.PropDescription, e.Text)
	}
	switch {
	case e.Day != 0:
		ev.Props.SetDate(ical.PropDateTimeStart, date(e.Day))
		ev.Props.SetDate(ical.PropDateTimeEnd, date(e.Day+1)) // the end is the first day no longer in it
		ev.Props.SetText(ical.PropTransparency, "TRANSPARENT")
	case e.StartsAt != 0:
		ev.Props.Set(moment(ical.PropDateTimeStart, e.StartsAt, loc))
		if e.EndsAt > e.StartsAt {
			ev.Props.Set(moment(ical.PropDateTimeEnd, e.EndsAt, loc))
		}
		if place != "" {
			setText(ev.Props, ical.PropLocation, place)
		}
	default:
		return nil, fmt.Errorf("calendar: entry %s has neither a day nor a start", e.UID)
	}
	status := "CONFIRMED"
	if e.Cancelled {
		status = "CANCELLED"
	}
	ev.Props.SetText(ical.PropStatus, status)
	return ev, nil
}

func date(d unit.Day) time.Time { return d.At(0, 0, time.UTC).Time() }
