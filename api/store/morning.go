package store

import (
	"context"
	"fmt"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// The owner's list of the morning: what is to be ordered and decided soon, and what has
// lain too long. It is written once a day, and only when there is something on it.

// How far the list looks. They are of the list alone: no promise hangs on them.
const (
	orderAhead   = 7  // days: order-bys and decisions
	fewestAhead  = 28 // days: classes under their fewest
	shelfTooLong = 10 // days on the shelf
	backFresh    = 14 // days: messages that came back
)

// morningSetting holds the last day whose list has been looked at.
const morningSetting = "morning list"

var morningTask = dueTask{name: "morning list", next: nextMorning, run: runMorning}

// nextMorning is the next time to look; none while nothing is under way that could ever
// stand on the list.
func nextMorning(ctx context.Context, s *Store) (unit.Instant, error) {
	if s.Config.Mail == "" {
		return 0, nil
	}
	var any bool
	err := s.read(ctx).Raw(`SELECT EXISTS (SELECT 1 FROM classes WHERE state IN ?) OR EXISTS (SELECT 1 FROM orders WHERE state IN ?)
		OR EXISTS (SELECT 1 FROM slabs WHERE state = ?) OR EXISTS (SELECT 1 FROM holds WHERE state = ?)`,
		[]shop.ClassState{shop.Open, shop.GoingAhead}, []shop.OrderState{shop.Needed, shop.Asked}, shop.OnShelf, shop.HoldOpen).Scan(&any).Error
	if err != nil || !any {
		return 0, err
	}
	last, err := s.Setting(ctx, morningSetting)
	if err != nil {
		return 0, err
	}
	day := s.Today()
	if last == day.String() {
		day++
	}
	return day.At(s.Rules.OwnerHour, 0, s.Loc), nil
}

func runMorning(ctx context.Context, s *Store) error {
	if s.Config.Mail == "" || s.Now() < s.Today().At(s.Rules.OwnerHour, 0, s.Loc) {
		return nil
	}
	if last, err := s.Setting(ctx, morningSetting); err != nil || last == s.Today().String() {
		return err
	}
	return s.tx(ctx, func(t tx) error {
		err := t.Exec("INSERT INTO settings (name, value) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value", morningSetting, t.today.String()).Error
		if err != nil {
			return err
		}
		lines, err := s.morningLines(t.DB, t.now)
		if err != nil || len(lines) == 0 {
			return err
		}
		// Urgent: seven in the morning lies in the quiet hours, and this is not for customers.
		return t.tellShop(shop.Notice{Key: "owner-morning/" + t.today.String(), Kind: shop.NoticeOwnerMorning, Subject: "day", SubjectID: int64(t.today), Urgent: true},
			shop.Facts{Lines: lines})
	})
}

// MorningList is what would stand on the list now.
func (s *Store) MorningList(ctx context.Context) ([]string, error) {
	return s.morningLines(s.read(ctx), s.Now())
}

func (s *Store) morningLines(db *gorm.DB, now unit.Instant) ([]string, error) {
	var lines []string
	for _, part := range []func(*gorm.DB, unit.Instant) ([]string, error){
		s.holdsOpen, s.amendsOpen, s.gapsToExplain, s.troubleLines, s.orderBys, s.decisions, s.underFewest, s.toSell, s.longOnShelf, s.mailTrouble,
	} {
		l, err := part(db, now)
		if err != nil {
			return nil, err
		}
		lines = append(lines, l...)
	}
	return lines, nil
}

func (s *Store) holdsOpen(db *gorm.DB, _ unit.Instant) ([]string, error) {
	var rows []struct {
		Name, Reason string
		OpenedAt     unit.Instant
		Slabs        int
	}
	err := db.Raw(`SELECT coalesce(rooms.name, '') AS name, holds.reason, holds.opened_at,
			(SELECT count(*) FROM hold_slabs WHERE hold_slabs.hold_id = holds.id) AS slabs
		FROM holds LEFT JOIN rooms ON rooms.id = holds.room_id WHERE holds.state = ? ORDER BY holds.opened_at, holds.id`, shop.HoldOpen).Scan(&rows).Error
	var lines []string
	for _, r := range rows {
		what := r.Name
		if what == "" {
			what = "Slabs"
		}
		lines = append(lines, fmt.Sprintf("ON HOLD since %s: %s, %s: %s", r.OpenedAt.Show(s.Loc), what, plural(r.Slabs, "slab"), r.Reason))
	}
	return lines, err
}

func (s *Store) orderBys(db *gorm.DB, now unit.Instant) ([]string, error) {
	var rows []struct {
		Number, Animals int
		Farm, Species   string
		State           shop.OrderState
		OrderBy         unit.Instant
	}
	err := db.Raw(`SELECT orders.number, orders.animals, farms.name AS farm, orders.species, orders.state, orders.order_by
		FROM orders JOIN farms ON farms.id = orders.farm_id
		WHERE orders.state IN ? AND orders.order_by > 0 AND orders.order_by <= ? ORDER BY orders.order_by, orders.number`,
		[]shop.OrderState{shop.Needed, shop.Asked}, now.Add(orderAhead*24*time.Hour)).Scan(&rows).Error
	var lines []string
	for _, r := range rows {
		state := "not sent yet"
		if r.State == shop.Asked {
			state = "sent, no answer yet"
		}
		when := "order by " + r.OrderBy.Show(s.Loc)
		if r.OrderBy <= now {
			when = "THE ORDER-BY HAS PASSED: " + r.OrderBy.Show(s.Loc)
		}
		lines = append(lines, fmt.Sprintf("%s, %s, %d × %s: %s; %s", shop.Order{Number: r.Number}.Ref(), r.Farm, r.Animals, r.Species, when, state))
	}
	return lines, err
}

func (s *Store) decisions(db *gorm.DB, now unit.Instant) ([]string, error) {
	classes, err := many[shop.Class](db, "decide_at, code", "state = ? AND decide_at > 0 AND decide_at <= ? AND starts_at > ?", shop.Open, now.Add(orderAhead*24*time.Hour), now)
	var lines []string
	for _, c := range classes {
		when := "decide by " + c.DecideAt.Show(s.Loc)
		if c.DecideAt <= now {
			when = "TO BE DECIDED since " + c.DecideAt.Show(s.Loc)
		}
		lines = append(lines, fmt.Sprintf("%s, %s: %s; %s", c.Code, c.StartsAt.Show(s.Loc), sold(c), when))
	}
	return lines, err
}

// underFewest leaves out what stands under decisions already.
func (s *Store) underFewest(db *gorm.DB, now unit.Instant) ([]string, error) {
	classes, err := many[shop.Class](db, "starts_at, code", `state IN ? AND seats_taken < min_seats AND starts_at > ? AND starts_at <= ?
		AND NOT (state = ? AND decide_at > 0 AND decide_at <= ?)`,
		[]shop.ClassState{shop.Open, shop.GoingAhead}, now, now.Add(fewestAhead*24*time.Hour), shop.Open, now.Add(orderAhead*24*time.Hour))
	var lines []string
	for _, c := range classes {
		lines = append(lines, fmt.Sprintf("%s, %s: %s", c.Code, c.StartsAt.Show(s.Loc), sold(c)))
	}
	return lines, err
}

func sold(c shop.Class) string {
	text := fmt.Sprintf("%d of %d seats taken", c.SeatsTaken, c.Seats)
	if c.SeatsTaken < c.MinSeats {
		text += fmt.Sprintf(", fewest is %d", c.MinSeats)
	}
	return text
}

func (s *Store) longOnShelf(db *gorm.DB, now unit.Instant) ([]string, error) {
	var rows []struct {
		Tag, Name, Place string
		ShelfAt          unit.Instant
	}
	today := now.Day(s.Loc)
	err := db.Raw(`SELECT slabs.tag, coalesce(bookings.payer_name, '') AS name, coalesce(places.code, '') AS place, slabs.shelf_at
		FROM slabs LEFT JOIN seats ON seats.id = slabs.seat_id LEFT JOIN bookings ON bookings.id = seats.booking_id
		LEFT JOIN placements ON placements.slab_id = slabs.id AND placements.until_at = 0 LEFT JOIN places ON places.id = placements.place_id
		WHERE slabs.state = ? AND slabs.shelf_at > 0 AND slabs.shelf_at < ? ORDER BY slabs.shelf_at, slabs.tag`,
		shop.OnShelf, (today-shelfTooLong).At(0, 0, s.Loc)).Scan(&rows).Error
	var lines []string
	for _, r := range rows {
		who := r.Name
		if who == "" {
			who = "the shop's own"
		}
		line := fmt.Sprintf("%s, %s: on the shelf since %s, %d days", r.Tag, who, r.ShelfAt.Day(s.Loc).Show(), int(today-r.ShelfAt.Day(s.Loc)))
		if r.Place != "" {
			line += ", place " + r.Place
		}
		lines = append(lines, line)
	}
	return lines, err
}

// mailTrouble counts the messages that do not get through.
func (s *Store) mailTrouble(db *gorm.DB, now unit.Instant) ([]string, error) {
	var failing, back int64
	if err := db.Model(&shop.Notice{}).Where("state = ? AND attempts > 1 AND last_error <> ''", shop.ToSend).Count(&failing).Error; err != nil {
		return nil, err
	}
	if err := db.Model(&shop.Notice{}).Where("state = ? AND sent_at >= ?", shop.CameBack, now.Add(-backFresh*24*time.Hour)).Count(&back).Error; err != nil {
		return nil, err
	}
	var lines []string
	if failing > 0 {
		lines = append(lines, fmt.Sprintf("%s cannot be sent; the page Notices says why", plural(int(failing), "message")))
	}
	if back > 0 {
		lines = append(lines, fmt.Sprintf("%s came back; the page Notices says which", plural(int(back), "message")))
	}
	return lines, nil
}
