package store

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"gorm.io/gorm/clause"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// jarsOnTable lists the jars a class may choose from, by code.
func (t tx) jarsOnTable(class shop.ClassID) (map[string]shop.Jar, error) {
	rows, err := many[shop.Jar](t.DB, "code", "NOT EXISTS (SELECT 1 FROM jars_away WHERE jars_away.jar_id = jars.id AND jars_away.class_id = ?)", class)
	if err != nil {
		return nil, err
	}
	jars := map[string]shop.Jar{}
	for _, j := range rows {
		jars[j.Code] = j
	}
	return jars, nil
}

// notOnTable is all a guest ever reads of a jar that is away: never who, never why (R13).
const notOnTable = "This one is not on the table that day; please choose another."

func checkPicks(people []shop.NewPerson, jars map[string]shop.Jar) error {
	var w shop.Wrong
	for i, p := range people {
		for j, code := range p.Picks {
			if _, ok := jars[code]; !ok && code != "" && code != shop.OnTheDayPick {
				w.Add(fmt.Sprintf("p%d_pick%d", i+1, j+1), notOnTable)
			}
		}
	}
	return w.Err()
}

// keepJarsAway brings the jars kept from a class's table up to what its people answered
// (R13): a severe allergen takes every jar carrying it away for that class, and picks of
// such a jar are reopened. A jar nobody is in danger from any more comes back; the people
// who chose anew are not written to again.
func (t tx) keepJarsAway(c *shop.Class) error {
	var severe []string
	err := t.Raw(`SELECT DISTINCT needs.allergen FROM needs JOIN seats ON seats.guest_id = needs.guest_id
		WHERE seats.class_id = ? AND needs.severe = ? AND seats.state IN (?, ?)`, c.ID, true, shop.Firm, shop.Came).Scan(&severe).Error
	if err != nil {
		return err
	}
	jars, err := many[shop.Jar](t.DB, "id", "allergens <> ''")
	if err != nil {
		return err
	}
	for _, j := range jars {
		danger := slices.ContainsFunc(strings.Split(j.Allergens, ","), func(a string) bool { return slices.Contains(severe, trim(a)) })
		if !danger {
			if err := t.Exec("DELETE FROM jars_away WHERE class_id = ? AND jar_id = ?", c.ID, j.ID).Error; err != nil {
				return err
			}
			continue
		}
		if err := t.Clauses(clause.OnConflict{DoNothing: true}).Create(&shop.JarAway{ClassID: c.ID, JarID: j.ID, Since: t.now}).Error; err != nil {
			return err
		}
		if err := t.reopenPicks(c, j); err != nil {
			return err
		}
	}
	return nil
}

// pickDeadline is when an open pick becomes "chosen on the day".
func pickDeadline(c *shop.Class) unit.Instant { return c.StartsAt.Add(-48 * time.Hour) }

func (t tx) reopenPicks(c *shop.Class, j shop.Jar) error {
	picks, err := many[shop.Pick](t.DB, "id", `jar_id = ? AND seat_id IN (SELECT id FROM seats WHERE class_id = ? AND state IN ?)
		AND NOT EXISTS (SELECT 1 FROM slabs WHERE slabs.seat_id = picks.seat_id AND slabs.slot = picks.slot AND slabs.jar_id <> 0)`,
		j.ID, c.ID, []shop.BookingState{shop.Held, shop.Offered, shop.Waiting, shop.Firm, shop.Came})
	if err != nil {
		return err
	}
	for _, p := range picks {
		state := shop.PickReopened
		if t.now >= pickDeadline(c) {
			state = shop.OnTheDay
		}
		if err := t.Model(&shop.Pick{}).Where("id = ?", p.ID).Updates(map[string]any{"jar_id": 0, "state": state}).Error; err != nil {
			return err
		}
		seat, err := take[shop.Seat](t.DB, "The seat", "id = ?", p.SeatID)
		if err != nil {
			return err
		}
		if seat.State != shop.Firm && seat.State != shop.Came {
			continue // somebody still paying sees it on the page
		}
		b, err := take[shop.Booking](t.DB, "The booking", "id = ?", seat.BookingID)
		if err != nil {
			return err
		}
		g, err := take[shop.Guest](t.DB, "The guest", "id = ?", seat.GuestID)
		if err != nil {
			return err
		}
		f, err := t.guestFacts(b, c)
		if err != nil {
			return err
		}
		f.Until, f.Lines = pickDeadline(c), []string{j.Name}
		key := "pick-reopened/" + strconv.FormatInt(int64(p.ID), 10) + "/" + j.Code
		if err := t.tell(t.toGuest(b, g, shop.NoticePickReopened, key), f); err != nil {
			return err
		}
	}
	return nil
}
