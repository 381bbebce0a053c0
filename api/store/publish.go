package store

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/demand"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// mayPublish says whether the shop can bear a class with every seat of every open class
// taken (R32a). The refusal names the first date that breaks, the most seats that would
// fit, and the first later day of that weekday on which all would.
func (t tx) mayPublish(c *shop.Class) error {
	// One at a time: two classes that each fit alone may not fit together.
	if err := t.Exec("UPDATE class_kinds SET seats = seats").Error; err != nil {
		return err
	}
	if err := t.needRoom(c); err != nil {
		return err
	}
	d, err := t.s.diary(t.DB)
	if err != nil {
		return err
	}
	v, err := d.judge(*c)
	if err != nil || v.OK {
		return err
	}
	return shop.Stop("no_room", "%s.", v.Text)
}

// diary is the season as the planner sees it: rules with the days' own hook plans, what
// stands, what is sketched, the plant's book.
type diary struct {
	Rules    season.Rules
	Season   season.Diary // classes that stand
	Sketched []season.Sitting
	byID     map[shop.ClassID]season.Sitting
}

// judge checks one class against all others that stand, and the answer by other means.
func (d diary) judge(c shop.Class) (season.Verdict, error) {
	add, ok := d.byID[c.ID]
	if !ok {
		return season.Verdict{OK: true, MostSeats: c.Seats}, nil
	}
	others := d.Season
	others.Open = nil
	for _, s := range d.Season.Open {
		if s.Code != c.Code {
			others.Open = append(others.Open, s)
		}
	}
	v := d.Rules.Judge(others, add)
	return v, v.Check(d.Rules, others, add)
}

// moved looks at a class on another day, with the seats sold: what would break, and whose
// seats on sale would lose their place (R32a).
func (d diary) moved(id shop.ClassID, to unit.Day) (no, lost string) {
	s, ok := d.byID[id]
	if !ok {
		return "", ""
	}
	var others []season.Sitting
	for _, o := range d.Season.Open {
		if o.Code != s.Code {
			others = append(others, o)
		}
	}
	closed := d.Season.Closed
	before, homeless := d.Rules.Breaks(append(slices.Clone(others), s), season.Sitting.Now, closed), d.Rules.Placeless(append(slices.Clone(others), s), closed)
	s.Day = to
	all := append(others, s)
	for _, b := range d.Rules.Breaks(all, season.Sitting.Now, closed) {
		if !slices.Contains(before, b) {
			return b.Text, ""
		}
	}
	for _, p := range d.Rules.Placeless(all, closed) {
		if !slices.Contains(homeless, p) {
			lost += fmt.Sprintf("; of %s %s on sale lose their place", p.Code, countWord(p.Seats, "seat", "seats"))
		}
	}
	return "", strings.TrimPrefix(lost, "; ")
}

// diary reads the season from a latest day's slabs on.
func (s *Store) diary(db *gorm.DB) (diary, error) {
	d := diary{byID: map[shop.ClassID]season.Sitting{}}
	book, err := s.seasonBook(db)
	if err != nil {
		return d, err
	}
	d.Rules = book.Rules
	if d.Rules.HookPlans, err = hookPlans(db); err != nil {
		return d, err
	}
	if d.Rules.Shelf, err = placesOf(db, shop.Shelf); err != nil {
		return d, err
	}
	if d.Rules.Freezer, err = placesOf(db, shop.Freezer); err != nil {
		return d, err
	}
	d.Season = season.Diary{Closed: book.Closed, Plant: book.Book, Today: s.Today()}
	var classes []shop.Class
	if classes, err = many[shop.Class](db, "starts_at, code", "day >= ? AND state <> ?", s.Today()-unit.Day(s.Rules.LatestDay+1), shop.ClassOff); err != nil {
		return d, err
	}
	cured, err := s.curedSlabs(db, classes)
	if err != nil {
		return d, err
	}
	more, err := moreSlabs(db, classes)
	if err != nil {
		return d, err
	}
	for _, c := range classes {
		k := book.Kinds[c.KindID]
		sit := season.Sitting{Code: c.Code, Day: c.Day, Seats: c.Seats, Sold: c.SeatsTaken, Plain: !k.Slabs,
			Second: more[c.ID].Second, Watching: more[c.ID].Watching, Allergen: more[c.ID].Allergen,
			From: minuteOf(c.StartsAt, c.Day, s), To: minuteOf(c.EndsAt, c.Day, s), Fed: c.KillDayID != 0 || c.OrderID != 0}
		if k.Slabs {
			sit.Demo = c.DemoSlabs
		}
		if k.Species != "" {
			sit.Use = k.Code
		}
		if c.State == shop.Sketched && k.Piece == "belly" && !sit.Fed {
			if sit.Animals, err = s.animalsOf(db, c, k); err != nil {
				return d, err
			}
		}
		d.byID[c.ID] = sit
		switch c.State {
		case shop.Sketched:
			d.Sketched = append(d.Sketched, sit)
		case shop.Taught, shop.ClosedOut:
			d.Season.Open = append(d.Season.Open, cured[c.ID]...)
		default:
			d.Season.Open = append(d.Season.Open, sit)
		}
	}
	return d, nil
}

// seasonBook is the plant's book, or only the shop's own rules while no plant is known.
func (s *Store) seasonBook(db *gorm.DB) (plantBook, error) {
	book, err := s.openBook(db, 0)
	if e, ok := shop.AsError(err); !ok || e.Kind != shop.NotFound {
		return book, err
	}
	book = plantBook{Kinds: map[shop.KindID]shop.ClassKind{}, Rules: s.Rules.Curing()}
	kinds, err := many[shop.ClassKind](db, "id", "1 = 1")
	if err != nil {
		return book, err
	}
	for _, k := range kinds {
		book.Kinds[k.ID] = k
	}
	closed, err := many[shop.ClosedDay](db, "day", "1 = 1")
	book.Closed = shop.Closed(closed)
	return book, err
}

// animalsOf is how many animals a class takes with every seat sold.
func (s *Store) animalsOf(db *gorm.DB, c shop.Class, k shop.ClassKind) (int, error) {
	call, ok := s.Rules.Calls(c, k, 0, c.Seats)
	if !ok {
		return 0, nil
	}
	y, err := yieldOf(db, 0, k.Species)
	if err != nil {
		return 0, err
	}
	p, err := demand.Order(demand.Input{Profile: y.Profile, Rule: s.Rules.SlabRule(), Classes: []demand.Class{call}})
	return p.Full.Animals, err
}

func minuteOf(at unit.Instant, day unit.Day, s *Store) int {
	return int((at - day.At(0, 0, s.Loc)) / 60)
}

func hookPlans(db *gorm.DB) (map[unit.Day]int, error) {
	rows, err := many[shop.HookPlan](db, "day", "1 = 1")
	plans := map[unit.Day]int{}
	for _, p := range rows {
		plans[p.Day] = p.HouseHooks
	}
	return plans, err
}

func placesOf(db *gorm.DB, kind shop.PlaceKind) (int, error) {
	var n int64
	err := db.Model(&shop.Place{}).Where("kind = ?", kind).Count(&n).Error
	return int(n), err
}

// sideSlabs is what a class has besides one slab a seat.
type sideSlabs struct{ Second, Watching, Allergen int }

// moreSlabs counts second slabs, watching seats, and slabs whose pick needs the bottom row.
func moreSlabs(db *gorm.DB, classes []shop.Class) (map[shop.ClassID]sideSlabs, error) {
	var rows []struct {
		ClassID shop.ClassID
		Kind    shop.SeatKind
		Slabs   int
		Low     int
	}
	err := db.Raw(`SELECT seats.class_id, seats.kind, seats.slabs, (SELECT count(*) FROM picks JOIN jars ON jars.id = picks.jar_id WHERE picks.seat_id = seats.id AND jars.allergens <> '') AS low
		FROM seats WHERE seats.class_id IN ? AND seats.state IN ?`, classIDs(classes), holding).Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("slabs besides one a seat: %w", err)
	}
	out := map[shop.ClassID]sideSlabs{}
	for _, r := range rows {
		m := out[r.ClassID]
		if r.Kind == shop.WatchSeat {
			m.Watching++
		}
		m.Second += max(r.Slabs-1, 0)
		m.Allergen += r.Low
		out[r.ClassID] = m
	}
	return out, nil
}

// curedSlabs are the slabs taught classes made, by the day they were sealed, with the
// days the cold has added; those not sealed yet count from the class day.
func (s *Store) curedSlabs(db *gorm.DB, classes []shop.Class) (map[shop.ClassID][]season.Sitting, error) {
	var rows []struct {
		ClassID  shop.ClassID
		SealedOn unit.Day
		Unbag    unit.Day
		N, Low   int
		Demo     int
	}
	err := db.Raw(`SELECT slabs.class_id, slabs.sealed_on, max(slabs.unbag_from) AS unbag, count(*) AS n,
			sum(CASE WHEN coalesce(jars.allergens, '') <> '' THEN 1 ELSE 0 END) AS low, sum(CASE WHEN slabs.demo = ? THEN 1 ELSE 0 END) AS demo
		FROM slabs LEFT JOIN jars ON jars.id = slabs.jar_id WHERE slabs.class_id IN ? AND slabs.state NOT IN ?
		GROUP BY slabs.class_id, slabs.sealed_on ORDER BY slabs.class_id, slabs.sealed_on`,
		true, classIDs(classes), []shop.SlabState{shop.Dumped, shop.Replaced, shop.GivenUp}).Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("slabs of taught classes: %w", err)
	}
	byID := map[shop.ClassID]shop.Class{}
	for _, c := range classes {
		byID[c.ID] = c
	}
	out := map[shop.ClassID][]season.Sitting{}
	for _, r := range rows {
		c := byID[r.ClassID]
		sit := season.Sitting{Code: c.Code, Day: c.Day, Seats: r.N - r.Demo, Sold: r.N - r.Demo, Demo: r.Demo, Allergen: r.Low}
		if r.SealedOn != 0 {
			sit.Day = r.SealedOn
			if r.Unbag != 0 {
				// Each started cold day has put the earliest unbag day off by one (R27).
				sit.Cold = time.Duration(int(r.Unbag-r.SealedOn)-s.Rules.CureDays) * 24 * time.Hour
			}
		}
		out[r.ClassID] = append(out[r.ClassID], sit)
	}
	return out, nil
}

func classIDs(classes []shop.Class) []shop.ClassID {
	ids := make([]shop.ClassID, len(classes))
	for i, c := range classes {
		ids[i] = c.ID
	}
	return ids
}
