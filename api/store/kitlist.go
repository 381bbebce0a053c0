package store

import (
	"context"
	"slices"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

// KitList is what to set a class out from: the kit of each slab by its own weight, the
// totals, and which jars stand on the table.
type KitList struct {
	Code      string
	Title     string
	StartsAt  unit.Instant
	Revision  int
	Lines     []KitLine
	Salt      unit.Weight
	Sugar     unit.Weight
	Cure      unit.Weight
	Spices    []KitSpice // jars out, with what to fill
	Away      []string   // jars kept away from this class
	Lots      []string   // open lots, as "curing salt CS-26-04"
	Planned   bool       // some weights are from the cut list, not yet weighed
	Recipe    string
	Limit     string     // in a line
	Source    string     // of the limit, and who approved it
	Caution   string     // of a limit nobody has approved yet
	SkinShare unit.Ratio // that counts as skin
	Scale     string     // in use for curing salt; "" where none is entered
	ScaleStep unit.Weight
}

// Widest is the widest band over the class's kits.
func (k KitList) Widest() cure.PPM {
	var w cure.PPM
	for _, l := range k.Lines {
		w = max(w, l.Band)
	}
	return w
}

// KitLine is one slab's kit.
type KitLine struct {
	Tag     string
	Seat    int // number at the table, in booking order; 0 for the shop's own
	Name    string
	Ref     string
	Weight  unit.Weight
	Weighed bool
	SkinOn  bool
	Salt    unit.Weight
	Sugar   unit.Weight
	Cure    unit.Weight
	PPM     cure.PPM
	Jar     string
	Spice   unit.Weight
	Ask     bool
	Band    cure.PPM // by which half a step of the scale may miss
	Warn    string   // what the bench should know before weighing
	Problem string   // why no kit can be made; "" when it can
	State   shop.SlabState
}

// KitSpice is one jar's need over the class.
type KitSpice struct {
	Code, Name, Allergens string
	Need, Fill            unit.Weight
}

// KitList reckons the kits of a class from the slabs as they are now; a slab not weighed
// yet stands with its weight from the cut list.
func (s *Store) KitList(ctx context.Context, code string) (*KitList, error) {
	db := s.read(ctx)
	c, err := take[shop.Class](db, "Class "+code, "code = ?", code)
	if err != nil {
		return nil, err
	}
	k := &KitList{Code: c.Code, Title: c.Title, StartsAt: c.StartsAt, Revision: c.Revision}
	slabs, err := many[shop.Slab](db, "number", "class_id = ? AND state NOT IN ?", c.ID, []shop.SlabState{shop.Dumped, shop.Replaced})
	if err != nil {
		return nil, err
	}
	recipe, err := house(db)
	if err != nil {
		return nil, err
	}
	lot, err := openLot(db, "curing salt", s.Today())
	if err != nil {
		return nil, err
	}
	scale, err := scaleInUse(db, s.Today())
	if err != nil {
		return nil, err
	}
	k.Scale, k.ScaleStep = scale.Name, scale.Step
	k.Recipe, k.Source, k.Limit, k.Caution, k.SkinShare = recipe.Name, recipe.source(), recipe.words(), recipe.caution(), recipe.skinShare()
	seats, err := tableSeats(db, c.ID)
	if err != nil {
		return nil, err
	}
	var tickets []cure.Ticket
	names := map[string]shop.Jar{}
	for i := range slabs {
		sl := &slabs[i]
		line, ticket, jar, err := s.kitLine(db, sl, recipe, lot, scale.Step)
		if err != nil {
			return nil, err
		}
		if st, ok := seats[sl.SeatID]; ok {
			line.Seat, line.Name, line.Ref = st.number, st.name, st.ref
		} else {
			line.Name = "the shop"
		}
		k.Planned = k.Planned || !line.Weighed
		if line.Problem == "" {
			tickets = append(tickets, ticket)
			names[jar.Code] = jar
		}
		k.Lines = append(k.Lines, line)
	}
	sum := cure.Sum(tickets, s.Rules.SpareShare, s.Rules.SpareStep)
	k.Salt, k.Sugar, k.Cure = sum.Salt, sum.Sugar, sum.CuringSalt
	for _, sp := range sum.Spices {
		j := names[sp.Jar]
		k.Spices = append(k.Spices, KitSpice{j.Code, j.Name, j.Allergens, sp.Need, sp.Fill})
	}
	slices.SortFunc(k.Spices, func(a, b KitSpice) int { return int(names[a.Code].ID - names[b.Code].ID) })
	return k, s.kitMargins(db, c, k)
}

func (s *Store) kitLine(db *gorm.DB, sl *shop.Slab, recipe book, lot *shop.IngredientLot, step unit.Weight) (KitLine, cure.Ticket, shop.Jar, error) {
	line := KitLine{Tag: sl.Tag, Weight: sl.Green, Weighed: sl.Green > 0, SkinOn: sl.SkinOn, State: sl.State}
	if !line.Weighed {
		line.Weight = sl.Planned
	}
	jar, ask, err := jarOf(db, sl)
	if err != nil {
		return line, cure.Ticket{}, jar, err
	}
	line.Jar, line.Ask = jar.Code, ask
	ticket, row, err := ticketOf(sl, line.Weight, recipe, lot, jar, step)
	if e, ok := shop.AsError(err); ok {
		line.Problem = e.Text
		return line, ticket, jar, nil
	}
	if err != nil {
		return line, ticket, jar, err
	}
	line.Band, line.Warn = bandOf(ticket), warningOf(ticket.Verdict)
	line.Salt, line.Sugar, line.Cure, line.Spice, line.PPM = row.Salt, row.Sugar, row.Cure, row.Spice, row.PPM
	return line, ticket, jar, nil
}

func (s *Store) kitMargins(db *gorm.DB, c *shop.Class, k *KitList) error {
	if err := db.Raw("SELECT jars.code FROM jars JOIN jars_away ON jars_away.jar_id = jars.id WHERE jars_away.class_id = ? ORDER BY jars.id", c.ID).Scan(&k.Away).Error; err != nil {
		return err
	}
	for _, ing := range []string{"curing salt", "salt", "sugar"} {
		l, err := openLot(db, ing, s.Today())
		if e, ok := shop.AsError(err); ok && e.Code == "no_lot" {
			k.Lots = append(k.Lots, ing+": NO LOT ENTERED")
			continue
		}
		if err != nil {
			return err
		}
		k.Lots = append(k.Lots, ing+" "+l.Code)
	}
	return nil
}

type tableSeat struct {
	number int
	name   string
	ref    string
}

// tableSeats numbers the seats of a class round the table: by booking number, then place
// within the party.
func tableSeats(db *gorm.DB, class shop.ClassID) (map[shop.SeatID]tableSeat, error) {
	var rows []struct {
		ID     shop.SeatID
		Name   string
		Number int
	}
	err := db.Raw(`SELECT seats.id, guests.name, bookings.number FROM seats JOIN bookings ON bookings.id = seats.booking_id JOIN guests ON guests.id = seats.guest_id
		WHERE seats.class_id = ? AND seats.state IN ? ORDER BY bookings.number, seats.position`, class, []shop.BookingState{shop.Firm, shop.Held, shop.Offered, shop.Came, shop.Missed}).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	out := map[shop.SeatID]tableSeat{}
	for i, r := range rows {
		out[r.ID] = tableSeat{i + 1, firstName(r.Name), shop.Ref(r.Number)}
	}
	return out, nil
}
