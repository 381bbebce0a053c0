package store

import (
	"fmt"
	"strconv"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/heat"
	"flitchbook/planner/inspection"
	"flitchbook/planner/unit"
)

// identify finds the thing a handle names, with what is to be said of it and what is next
// to it on the thread.
func (s *Store) identify(db *gorm.DB, h Handle) (*Traced, int64, error) {
	what, ok := handleKinds[h.Kind]
	if !ok {
		return nil, 0, shop.Missing(fmt.Sprintf("A trace from a %q", h.Kind))
	}
	tr := &Traced{Handle: h, What: what}
	if !h.Spans() {
		tr.From, tr.Until = 0, 0
	}
	var id int64
	var err error
	switch h.Kind {
	case "slab":
		id, err = s.identifySlab(db, tr)
	case "animal", "side", "belly", "delivery":
		if id, err = keyID(h); err == nil {
			err = s.identifyMeat(db, tr, id)
		}
	case "lot":
		if id, err = keyID(h); err == nil {
			err = s.identifyLot(db, tr, id)
		}
	case "jar":
		var j *shop.Jar
		if j, err = take[shop.Jar](db, "The jar "+h.Key, "upper(code) = upper(?)", h.Key); err == nil {
			id, tr.Key, tr.Name = int64(j.ID), j.Code, j.Code+" "+j.Name
			tr.fact("In it", j.Contents, "")
			tr.fact("Carries", j.Allergens, "")
		}
	case "room":
		id, err = s.identifyRoom(db, tr)
	case "load":
		id, err = s.identifyLoad(db, tr)
	case "scale":
		if id, err = keyID(h); err == nil {
			err = s.identifyScale(db, tr, id)
		}
	case "farm":
		var f *shop.Farm
		if f, err = take[shop.Farm](db, "The farm "+h.Key, "code = ?", h.Key); err == nil {
			id, tr.Name = int64(f.ID), f.Name
			tr.Near, err = s.deliveriesIn(db, "orders.farm_id = ?", id, tr.Handle)
		}
	case "plant":
		if id, err = keyID(h); err != nil {
			break
		}
		var p *shop.Plant
		if p, err = take[shop.Plant](db, "The plant", "id = ?", id); err == nil {
			tr.Name = p.Name
			tr.fact("Number", p.Number, "")
			tr.Near, err = s.deliveriesIn(db, "orders.kill_day_id IN (SELECT id FROM kill_days WHERE plant_id = ?)", id, tr.Handle)
		}
	case "grind":
		if id, err = keyID(h); err == nil {
			var g *shop.Grind
			if g, err = take[shop.Grind](db, "The grinding", "id = ? AND cleaned = ?", id, false); err == nil {
				tr.Name = g.Product + ", ground " + g.At.Show(s.Loc)
			}
		}
	}
	return tr, id, err
}

func (t *Traced) fact(name, text, path string) {
	if trim(text) != "" {
		t.Facts = append(t.Facts, TraceFact{name, text, path})
	}
}

func (t *Traced) near(kind string, id int64, name string) {
	t.Near = append(t.Near, TraceHit{Handle{Kind: kind, Key: strconv.FormatInt(id, 10)}, handleKinds[kind], name})
}

func (s *Store) identifySlab(db *gorm.DB, tr *Traced) (int64, error) {
	sl, err := take[shop.Slab](db, "Slab "+tr.Key, "tag = ?", strings.ToUpper(trim(tr.Key)))
	if err != nil {
		return 0, err
	}
	tr.Key, tr.Name = sl.Tag, sl.Tag
	tr.fact("Its whole way, step by step", sl.Tag, "/staff/slabs/"+sl.Tag)
	if sl.SealedOn != 0 {
		tr.fact("Sealed", sl.SealedOn.ShowYear(), "")
		var n int64
		if err := db.Raw("SELECT count(*) FROM bag_uses WHERE slab_id = ?", sl.ID).Scan(&n).Error; err != nil {
			return 0, err
		}
		if n == 0 {
			tr.fact("Bag", "no roll was noted when it was sealed", "")
		}
	}
	var maybe []string
	if err := db.Raw("SELECT slabs.tag FROM slab_candidates JOIN slabs ON slabs.id = slab_candidates.candidate_id WHERE slab_candidates.slab_id = ? ORDER BY slabs.tag", sl.ID).Scan(&maybe).Error; err != nil {
		return 0, err
	}
	if len(maybe) > 0 {
		tr.fact("Its tag was lost", "shared out by draw: it may be the piece of "+strings.Join(maybe, " or "), "")
	}
	if sl.BellyID == 0 {
		return int64(sl.ID), nil
	}
	var m meatRow
	if err := db.Raw(meatOf+"WHERE bellies.id = ?", sl.BellyID).Scan(&m).Error; err != nil {
		return 0, err
	}
	m.chain(tr, "slab")
	return int64(sl.ID), nil
}

// meatRow is one belly, side or animal with all that stands above it.
type meatRow struct {
	BellyID, SideID, AnimalID, DeliveryID, PlantID int64
	Belly, Hot, Cold                               unit.Weight
	Which, Tag, Species, Farm, FarmCode            string
	Plant, PlantNumber, Legend, Lot, ReceivedBy    string
	Number, OrderNumber                            int
	KilledOn, Day                                  unit.Day
	Condemned                                      bool
}

const meatOf = `SELECT coalesce(bellies.id, 0) AS belly_id, coalesce(bellies.weight, 0) AS belly, coalesce(sides.id, 0) AS side_id, coalesce(sides.which, '') AS which, coalesce(sides.cold, 0) AS cold,
	animals.id AS animal_id, animals.tag, animals.species, animals.number, animals.hot, animals.condemned, animals.killed_on, orders.number AS order_number, farms.name AS farm, farms.code AS farm_code,
	plants.id AS plant_id, plants.name AS plant, plants.number AS plant_number, coalesce(deliveries.id, 0) AS delivery_id, coalesce(deliveries.legend, '') AS legend, coalesce(deliveries.lot, '') AS lot, coalesce(deliveries.received_by, '') AS received_by, deliveries.day
	FROM animals JOIN orders ON orders.id = animals.order_id JOIN farms ON farms.id = orders.farm_id JOIN kill_days ON kill_days.id = orders.kill_day_id JOIN plants ON plants.id = kill_days.plant_id
	LEFT JOIN deliveries ON deliveries.id = animals.delivery_id LEFT JOIN sides ON sides.animal_id = animals.id LEFT JOIN bellies ON bellies.side_id = sides.id `

// animal is what an animal is called: its tag, or its number within the order.
func (m meatRow) animal() string {
	if m.Tag != "" {
		return m.Tag
	}
	return fmt.Sprintf("%s %d of order %d", m.Species, m.Number, m.OrderNumber)
}

// chain names everything above a belly or slab, and its facts.
func (m meatRow) chain(tr *Traced, from string) {
	switch from {
	case "slab":
		tr.near("belly", m.BellyID, "belly "+m.animal()+" "+m.Which)
		fallthrough
	case "belly":
		tr.near("side", m.SideID, m.animal()+" "+m.Which)
		fallthrough
	case "side":
		tr.near("animal", m.AnimalID, m.animal())
		fallthrough
	case "animal":
		if m.DeliveryID != 0 {
			tr.near("delivery", m.DeliveryID, m.Lot)
		}
		tr.Near = append(tr.Near, TraceHit{Handle{Kind: "farm", Key: m.FarmCode}, handleKinds["farm"], m.Farm})
		tr.near("plant", m.PlantID, m.Plant+", "+m.PlantNumber)
	}
	tr.fact("Farm", m.Farm, "/staff/trace/farm/"+m.FarmCode)
	tr.fact("Order", strconv.Itoa(m.OrderNumber), "")
	killed := ""
	if m.KilledOn != 0 {
		killed = m.KilledOn.ShowYear() + ", "
	}
	tr.fact("Killed", killed+m.Plant+", "+m.PlantNumber, "")
	if m.Condemned {
		tr.fact("Condemned", "at inspection: none of it came in", "")
	}
	if m.DeliveryID != 0 {
		mark := m.Legend
		if trim(mark) == "" {
			mark = "none"
		}
		tr.fact("Inspection mark", mark, "")
		tr.fact("Delivered", m.Day.ShowYear()+", received by "+m.ReceivedBy, "")
		tr.fact("Papers kept to", inspection.KeepPurchase(m.Day).ShowYear()+" at least", "")
	}
}

func (s *Store) identifyMeat(db *gorm.DB, tr *Traced, id int64) error {
	if tr.Kind == "delivery" {
		return s.identifyDelivery(db, tr, id)
	}
	where := map[string]string{"animal": "animals.id = ?", "side": "sides.id = ?", "belly": "bellies.id = ?"}[tr.Kind]
	var rows []meatRow
	if err := db.Raw(meatOf+"WHERE "+where+" ORDER BY sides.id", id).Scan(&rows).Error; err != nil {
		return err
	}
	if len(rows) == 0 {
		return shop.Missing("The " + tr.What)
	}
	m := rows[0]
	switch tr.Kind {
	case "animal":
		tr.Name = m.animal()
		tr.fact("Species", m.Species, "")
		if m.Hot != 0 {
			tr.fact("Hot", m.Hot.LB(), "")
		}
		for _, r := range rows {
			if r.SideID != 0 {
				tr.near("side", r.SideID, m.animal()+" "+r.Which)
			}
			if r.BellyID != 0 {
				tr.near("belly", r.BellyID, "belly "+m.animal()+" "+r.Which)
			}
		}
	case "side":
		tr.Name = m.animal() + " " + m.Which
		if m.Cold != 0 {
			tr.fact("Cold", m.Cold.LB(), "")
		}
		if m.BellyID != 0 {
			tr.near("belly", m.BellyID, "belly "+m.animal()+" "+m.Which)
		}
	case "belly":
		tr.Name = "belly " + m.animal() + " " + m.Which
		tr.fact("Weight", m.Belly.LB(), "")
	}
	m.chain(tr, tr.Kind)
	return nil
}

func (s *Store) identifyDelivery(db *gorm.DB, tr *Traced, id int64) error {
	d, err := take[shop.Delivery](db, "The delivery", "id = ?", id)
	if err != nil {
		return err
	}
	tr.Name = d.Lot
	var rows []meatRow
	if err := db.Raw(meatOf+"WHERE deliveries.id = ? ORDER BY animals.number, sides.id", id).Scan(&rows).Error; err != nil {
		return err
	}
	for i, r := range rows {
		if i == 0 {
			tr.Near = append(tr.Near, TraceHit{Handle{Kind: "farm", Key: r.FarmCode}, handleKinds["farm"], r.Farm})
			tr.near("plant", r.PlantID, r.Plant+", "+r.PlantNumber)
		}
		if i == 0 || rows[i-1].AnimalID != r.AnimalID {
			tr.near("animal", r.AnimalID, r.animal())
		}
	}
	if len(rows) > 0 {
		rows[0].chain(tr, "delivery")
	}
	return nil
}

func (s *Store) deliveriesIn(db *gorm.DB, where string, id int64, h Handle) ([]TraceHit, error) {
	hi := h.Until
	if hi == 0 {
		hi = ever
	}
	var rows []struct{ Key, Name string }
	err := db.Raw("SELECT CAST(deliveries.id AS TEXT) AS key, deliveries.lot AS name FROM deliveries JOIN orders ON orders.id = deliveries.order_id WHERE "+where+" AND deliveries.at >= ? AND deliveries.at <= ? ORDER BY deliveries.id DESC LIMIT 40", id, h.From, hi).Scan(&rows).Error
	var out []TraceHit
	for _, r := range rows {
		out = append(out, TraceHit{Handle{Kind: "delivery", Key: r.Key}, handleKinds["delivery"], r.Name})
	}
	return out, err
}

func (s *Store) identifyLot(db *gorm.DB, tr *Traced, id int64) error {
	l, err := take[shop.IngredientLot](db, "The ingredient lot", "id = ?", id)
	if err != nil {
		return err
	}
	tr.Name = l.Ingredient + " " + l.Code
	tr.fact("From", l.Supplier, "")
	if l.Nitrite > 0 {
		tr.fact("Nitrite", l.Nitrite.Pct(2), "")
	}
	if l.OpenedOn != 0 {
		tr.fact("Opened", l.OpenedOn.ShowYear(), "")
	}
	used := "still in use"
	if l.UsedUpOn != 0 {
		used = l.UsedUpOn.ShowYear()
	}
	tr.fact("Used up", used, "")
	if l.OpenedOn != 0 {
		tr.fact("Record kept to", keepLot(l, s.Today()).ShowYear()+" at least", "")
	}
	return nil
}

func (s *Store) identifyRoom(db *gorm.DB, tr *Traced) (int64, error) {
	rm, err := take[shop.Room](db, "The room "+tr.Key, "code = ?", tr.Key)
	if err != nil {
		return 0, err
	}
	tr.Name = rm.Name
	if tr.From == 0 {
		return int64(rm.ID), nil
	}
	until := tr.Until
	if until == 0 {
		until = s.Now()
	}
	log, err := roomLog(db, rm.ID, tr.From, until)
	if err != nil {
		return 0, err
	}
	if len(log) == 0 {
		tr.fact("Readings", "none in this span", "")
	} else {
		lo, hi := log[0], log[0]
		for _, r := range log {
			if r.Temp < lo.Temp {
				lo = r
			}
			if r.Temp > hi.Temp {
				hi = r
			}
		}
		tr.fact("Readings", fmt.Sprintf("%d, from %s to %s (%s)", len(log), lo.Temp.Show(), hi.Temp.Show(), hi.At.Show(s.Loc)), "")
	}
	a := heat.Cold(heat.HouseCold(), log, tr.From, min(until, s.Now()))
	for _, r := range a.Runs {
		tr.fact("Above "+heat.HouseCold().Warm.Show(), fmt.Sprintf("%s to %s, peak %s", r.First.Show(s.Loc), r.Last.Clock(s.Loc), r.Peak.Show()), "")
	}
	for _, g := range a.Gaps {
		tr.fact("No reading", g.From.Show(s.Loc)+" to "+g.To.Show(s.Loc), "")
	}
	var holds []shop.Hold
	if holds, err = many[shop.Hold](db, "opened_at", "room_id = ? AND opened_at BETWEEN ? AND ?", rm.ID, tr.From, until); err != nil {
		return 0, err
	}
	for _, h := range holds {
		tr.fact("Hold", holdWords(h, s), "/staff/holds")
	}
	return int64(rm.ID), nil
}

// holdWords is a hold in one line, with whoever decided.
func holdWords(h shop.Hold, s *Store) string {
	text := h.OpenedAt.Show(s.Loc) + ": " + h.Reason + " (" + h.OpenedBy + ")"
	if h.ClosedAt != 0 {
		return text + "; " + string(h.State) + " " + h.ClosedAt.Show(s.Loc) + " by " + h.ClosedBy + ": " + h.Why
	}
	return text + "; open"
}

func (s *Store) identifyLoad(db *gorm.DB, tr *Traced) (int64, error) {
	d, err := unit.ParseDay(tr.Key)
	if err != nil {
		return 0, shop.Missing("The smoke load")
	}
	tr.Name = "smoke of " + d.ShowYear()
	tr.fact("Its sheet", "smoke sheet", "/staff/smoke/"+d.String())
	return int64(d), nil
}

func (s *Store) identifyScale(db *gorm.DB, tr *Traced, id int64) error {
	sc, err := take[shop.Scale](db, "The scale", "id = ?", id)
	if err != nil {
		return err
	}
	tr.Name = sc.Name
	tr.fact("Reads to", sc.Step.G(2), "")
	hi := tr.Until
	if hi == 0 {
		hi = ever
	}
	checks, err := many[shop.ScaleCheck](db.Limit(40), "at DESC", "scale_id = ? AND at >= ? AND at <= ?", id, tr.From, hi)
	if err != nil {
		return err
	}
	for _, c := range checks {
		verdict := "passed"
		if !c.Passed {
			verdict = "FAILED"
		}
		tr.fact("Checked "+c.At.Show(s.Loc), "5 g weight shows "+c.Shown.G(2)+", "+verdict+", "+c.Actor, "")
	}
	return nil
}
