package store

import (
	"context"
	"fmt"
	"slices"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/season"
	"flitchbook/planner/smoke"
	"flitchbook/planner/unit"
)

// SmokeOutlook is all loads ahead: the house rule's, chosen day after day, beside a plan
// over all of them at once. Nothing of it is stored; it is reckoned from how things stand.
type SmokeOutlook struct {
	smoke.Outlook
	Ahead      []SmokeAhead // days on which either hangs something, and those planned
	Unsealed   int          // slabs of it that seats sold in classes to come will make
	Classes    []string     // those classes
	NotPlanned []string     // tags that nobody has sealed though their class is over
}

// SmokeAhead is one smoke day of it.
type SmokeAhead struct {
	smoke.LookDay
	HouseHooks int
	Saved      bool   // a load is planned
	Hanging    bool   // and hangs
	Chosen     string // "plan" when the owner took the plan's load
	ByHouse    []SmokeParty
	ByPlan     []SmokeParty
}

// SmokeParty is a party's slabs in a load.
type SmokeParty struct {
	Party string // "" for the shop's own
	Tags  []string
	Later bool // not sealed yet
}

// aheadWork bounds the search so that the page stays quick; a season of one shop takes a
// small part of it.
const aheadWork = 20_000_000

// aheadDays is how far smoke days are looked at beyond the last slab's latest day.
const aheadDays = 28

// SmokeOutlook plans all loads ahead both ways.
func (s *Store) SmokeOutlook(ctx context.Context) (*SmokeOutlook, error) {
	return s.outlook(s.read(ctx))
}

func (s *Store) outlook(db *gorm.DB) (*SmokeOutlook, error) { return s.outlookWith(db, nil) }

// outlookWith plans them with slabs besides that somebody thinks of making.
func (s *Store) outlookWith(db *gorm.DB, more []smoke.Coming) (*SmokeOutlook, error) {
	closed, err := closedForWork(db)
	if err != nil {
		return nil, err
	}
	slabs, err := s.comingSlabs(db)
	if err != nil {
		return nil, err
	}
	out := &SmokeOutlook{}
	later, err := s.unsealedSlabs(db, closed, out)
	if err != nil {
		return nil, err
	}
	again, err := s.comingAgain(db)
	if err != nil {
		return nil, err
	}
	slabs = slices.Concat(slabs, again, later, more)
	var last unit.Day
	for _, c := range slabs {
		last = max(last, c.Latest, c.Earliest, c.Pinned)
	}
	days, own, err := s.daysAhead(db, closed, max(last, s.Today())+aheadDays)
	if err != nil {
		return nil, err
	}
	if out.Outlook, err = smoke.Look(days, slabs, aheadWork); err != nil {
		return nil, fmt.Errorf("all loads ahead: %w", err)
	}
	return out, out.fill(db, slabs, own)
}

// comingSlabs are the slabs in cure or rinsed, those on hold among them.
func (s *Store) comingSlabs(db *gorm.DB) ([]smoke.Coming, error) {
	today := s.Today()
	waiting, err := waitingForSmoke(db, s.Rules, today+365)
	if err != nil {
		return nil, err
	}
	var rows []struct {
		Tag     string
		State   shop.SlabState
		ReadyOn unit.Day
		Pinned  unit.Day
		Hung    bool
	}
	err = db.Raw(`SELECT slabs.tag, slabs.state, slabs.ready_on,
			(SELECT max(smoke_loads.day) FROM smoke_loads JOIN load_slabs ON load_slabs.load_id = smoke_loads.id WHERE load_slabs.slab_id = slabs.id AND smoke_loads.day >= ?) AS pinned
		FROM slabs WHERE slabs.sealed_on IS NOT NULL AND slabs.state IN ?`, today, []shop.SlabState{shop.InCure, shop.Rinsed}).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	at := map[string]int{}
	for i, r := range rows {
		at[r.Tag] = i
	}
	var out []smoke.Coming
	for _, w := range waiting {
		c := smoke.Coming{Slab: w}
		c.Earliest = max(c.Earliest, today) // nothing leaves its bag yesterday
		if i, ok := at[w.Tag]; ok {
			r := rows[i]
			if !w.Demo() {
				c.Promise = r.ReadyOn
			}
			if r.State == shop.Rinsed && !w.Held {
				c.Earliest = min(c.Earliest, today-1) // it is out of its bag
				c.Pinned = r.Pinned
			}
		}
		out = append(out, c)
	}
	return out, nil
}

// unsealedSlabs are the slabs that seats sold in classes still to be taught will make,
// sealed on the class day, promised what the class page says, with what has been picked.
// What is sold later, or chosen at the table, is not known yet.
func (s *Store) unsealedSlabs(db *gorm.DB, closed season.Closed, out *SmokeOutlook) ([]smoke.Coming, error) {
	classes, err := many[shop.Class](db, "starts_at, code", "state IN ? AND kind_id IN (SELECT id FROM class_kinds WHERE slabs = ?)",
		[]shop.ClassState{shop.Open, shop.GoingAhead}, true)
	if err != nil || len(classes) == 0 {
		return nil, err
	}
	var seats []struct {
		ClassID shop.ClassID
		Number  int
		Slabs   int
		Sealed  int
		Low     int
	}
	err = db.Raw(`SELECT seats.class_id, bookings.number, seats.slabs,
			(SELECT count(*) FROM slabs WHERE slabs.seat_id = seats.id AND slabs.state NOT IN ? AND slabs.id NOT IN (SELECT new_slab_id FROM amends)) AS sealed,
			(SELECT count(*) FROM picks JOIN jars ON jars.id = picks.jar_id WHERE picks.seat_id = seats.id AND jars.allergens <> '') AS low
		FROM seats JOIN bookings ON bookings.id = seats.booking_id WHERE seats.class_id IN ? AND seats.state IN ? AND seats.slabs > 0
		ORDER BY seats.class_id, bookings.number, seats.position, seats.id`, []shop.SlabState{shop.Wanted, shop.Cut, shop.Kitted}, classIDs(classes), holding).Scan(&seats).Error
	if err != nil {
		return nil, err
	}
	var demos []struct {
		ClassID shop.ClassID
		N       int
	}
	err = db.Raw("SELECT class_id, count(*) AS n FROM slabs WHERE demo = ? AND state NOT IN ? AND class_id IN ? GROUP BY class_id", true,
		[]shop.SlabState{shop.Wanted, shop.Cut, shop.Kitted}, classIDs(classes)).Scan(&demos).Error
	if err != nil {
		return nil, err
	}
	var all []smoke.Coming
	for _, c := range classes {
		if c.Day < s.Today() {
			continue // over, and nobody has said so: its slabs stand as they are
		}
		n, promise := 0, s.readyFrom(c.Day, closed)
		add := func(party string, low bool) {
			n++
			sl := smoke.Slab{Tag: fmt.Sprintf("%s/%d", c.Code, n), Party: party, Sealed: c.Day, Earliest: c.Day + unit.Day(s.Rules.CureDays),
				Latest: c.Day + unit.Day(s.Rules.LatestDay), Allergen: low}
			co := smoke.Coming{Slab: sl}
			if party != "" {
				co.Promise = promise
			}
			all = append(all, co)
		}
		for _, st := range seats {
			if st.ClassID != c.ID {
				continue
			}
			for i := range st.Slabs - st.Sealed {
				add(shop.Ref(st.Number), i < st.Low-st.Sealed)
			}
		}
		left := c.DemoSlabs
		for _, d := range demos {
			if d.ClassID == c.ID {
				left -= d.N
			}
		}
		for range left {
			add("", false)
		}
		if n > 0 {
			out.Unsealed, out.Classes = out.Unsealed+n, append(out.Classes, c.Code)
		}
	}
	err = db.Raw(`SELECT slabs.tag FROM slabs JOIN classes ON classes.id = slabs.class_id WHERE slabs.state IN ? AND slabs.id NOT IN (SELECT new_slab_id FROM amends) AND (classes.day < ? OR classes.state IN ?) ORDER BY slabs.class_id, slabs.number`,
		[]shop.SlabState{shop.Cut, shop.Kitted}, s.Today(), []shop.ClassState{shop.Taught, shop.ClosedOut}).Scan(&out.NotPlanned).Error
	return all, err
}

// daysAhead are the smoke days by the chain of working days (R28), with the hooks the
// shop's own bacon leaves. Today counts while its load waits to be hung.
func (s *Store) daysAhead(db *gorm.DB, closed season.Closed, to unit.Day) ([]smoke.DayAhead, map[unit.Day]int, error) {
	plans, err := hookPlans(db)
	if err != nil {
		return nil, nil, err
	}
	loads, err := many[shop.SmokeLoad](db, "day", "day >= ?", s.Today())
	if err != nil {
		return nil, nil, err
	}
	saved := map[unit.Day]bool{}
	for _, l := range loads {
		saved[l.Day] = true
	}
	_, hooks, err := railOf(db, 0)
	if err != nil {
		return nil, nil, err
	}
	bottom := 0
	for _, h := range hooks {
		bottom += oneIf(h.Bottom)
	}
	own := map[unit.Day]int{}
	var days []smoke.DayAhead
	for d := s.Today(); d <= to; d++ {
		if !saved[d] && (d == s.Today() || !slices.Contains(s.Rules.UnbagDays, int((d-1).Weekday()))) {
			continue
		}
		if closed.Has(d-1) || closed.Has(d) || closed.Has(d+1) {
			continue
		}
		n, ok := plans[d]
		if !ok {
			n = s.Rules.HouseHooks[d.Weekday()]
		}
		own[d] = n
		days = append(days, smoke.DayAhead{Day: d, Hooks: max(bottom, len(hooks)-n), Bottom: bottom}) // own bacon never takes the bottom row
	}
	return days, own, nil
}

func oneIf(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// fill says who hangs where in words a page can show.
func (o *SmokeOutlook) fill(db *gorm.DB, slabs []smoke.Coming, own map[unit.Day]int) error {
	var loads []shop.SmokeLoad
	if err := db.Find(&loads).Error; err != nil {
		return err
	}
	by := map[string]smoke.Coming{}
	for _, c := range slabs {
		by[c.Tag] = c
	}
	parties := func(tags []string) []SmokeParty {
		var out []SmokeParty
		for _, tag := range tags {
			c := by[tag]
			if n := len(out); n == 0 || out[n-1].Party != c.Party {
				out = append(out, SmokeParty{Party: c.Party, Later: slices.Contains([]byte(tag), '/')})
			}
			p := &out[len(out)-1]
			p.Tags = append(p.Tags, tag)
		}
		return out
	}
	for _, d := range o.Days {
		a := SmokeAhead{LookDay: d, HouseHooks: own[d.Day], ByHouse: parties(d.House), ByPlan: parties(d.Plan)}
		for _, l := range loads {
			if l.Day == d.Day {
				a.Saved, a.Hanging, a.Chosen = true, l.State == "hung", l.Chosen
			}
		}
		if a.Saved || len(d.House)+len(d.Plan) > 0 {
			o.Ahead = append(o.Ahead, a)
		}
	}
	return nil
}

// TakePlan makes the plan's load of a day the day's load, in place of the house rule's.
// Only the owner may, with a reason, which stands in the record; the load passes the same
// checks of hooks, bottom row, holds and whole parties as any other. What the plan means
// for later days is expected then.
func (s *Store) TakePlan(ctx context.Context, by shop.Actor, day unit.Day, reason string) (*LoadPlan, error) {
	if !by.May(shop.Owner) {
		return nil, shop.ErrNotAllowed
	}
	if trim(reason) == "" {
		var w shop.Wrong
		w.Add("reason", "Say why this load and not the house rule's; it stands in the record.")
		return nil, w.Err()
	}
	var plan *LoadPlan
	err := s.tx(ctx, func(t tx) error {
		r, err := t.loadRoom(day)
		if err != nil {
			return err
		}
		o, err := s.outlook(t.DB)
		if err != nil {
			return err
		}
		tags, ok := o.PlanOf(day)
		if !ok || len(tags) == 0 {
			return shop.Stop("no_plan", "The plan hangs nothing on %s. %s", day.Show(), o.NoPlan)
		}
		load, err := smoke.Taken(r.room, r.slabs, tags, "by the plan over all loads ahead", "waits by the plan over all loads ahead")
		if err == nil {
			err = load.Fits(r.room, r.slabs)
		}
		if err != nil {
			return shop.Stop("no_fit", "The plan's load of %s cannot hang: %s.", day.Show(), err)
		}
		when := map[string]unit.Day{}
		for _, st := range o.Stays {
			for _, tag := range st.Tags {
				when[tag] = st.Plan
			}
		}
		if plan, err = t.keepLoad(r, load, chosenBy{"plan", by.Name, trim(reason)}, when); err != nil {
			return err
		}
		return t.note(by, "load", int64(day), "plan taken", "house rule", "plan over all loads", fmt.Sprintf("%d of %d hooks: %s", load.Hooks, r.room.Hooks, trim(reason)))
	})
	return plan, err
}
