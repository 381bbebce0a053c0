package store

import (
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// closedForWork lists the days nothing is unbagged, smoked or packed.
func closedForWork(db *gorm.DB) (season.Closed, error) {
	days, err := many[shop.ClosedDay](db, "day", "work = ?", true)
	return shop.Closed(days), err
}

// readyAbout is the honest estimate for slabs sealed on a day, or none when no chain of
// working days fits.
func (s *Store) readyAbout(db *gorm.DB, seal unit.Day) (unit.Day, error) {
	closed, err := closedForWork(db)
	if err != nil {
		return 0, err
	}
	return s.readyFrom(seal, closed), nil
}

func (s *Store) readyFrom(seal unit.Day, closed season.Closed) unit.Day {
	c, err := s.Rules.Curing().ReadyAbout(seal, 0, closed)
	if err != nil {
		return 0 // no chain fits: the pages then name no date rather than a false one
	}
	return c.Pack
}

// setReady writes a booking's calendar entry "bacon ready about"; day none takes it away.
func (t tx) setReady(b *shop.Booking, day unit.Day) error {
	uid := t.s.uid("ready", int64(b.ID))
	if day == 0 {
		return t.cancelEntry(uid)
	}
	_, err := t.setEntry(shop.Entry{UID: uid, Kind: "ready", Subject: "booking", SubjectID: int64(b.ID), Day: day,
		Title: "Bacon ready about now", Text: fmt.Sprintf("Booking %s. We write as soon as it is on the shelf.", b.Ref())})
	return err
}
