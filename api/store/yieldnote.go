package store

import (
	"context"
	"fmt"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

// YieldNote is what a farm's animals gave, for the farm: carcasses, bellies and slabs,
// never a class, a guest or a price of ours.
type YieldNote struct {
	Order   shop.Order
	Farm    shop.Farm
	Kill    unit.Day
	Animals []NoteAnimal
	Hot     unit.Weight // of those not condemned
	Cold    unit.Weight
	Shrink  unit.Ratio
	Slabs   int
	Tells   string     // how the bellies cut, in words; "" for a species without bellies of ours
	Season  SeasonNote // the same over the year so far
	SentAt  unit.Instant
}

// NoteAnimal is one carcass.
type NoteAnimal struct {
	Name      string // "pig 2 (HB-612)"
	Condemned bool
	Hot       unit.Weight
	Cold      unit.Weight
	Shrink    unit.Ratio
	Sides     []NoteSide
}

// NoteSide is a side with its belly.
type NoteSide struct {
	Which string
	Cold  unit.Weight
	Hind  unit.Weight
	Fore  unit.Weight
	Belly unit.Weight // 0 for none
	Slabs int
	Each  unit.Weight
	Skin  bool // left on
}

// SeasonNote is a farm's animals of a species over a year.
type SeasonNote struct {
	From      unit.Day
	Hung      int // killed and not condemned
	Condemned int
	Hot       unit.Weight // a head
	Shrink    unit.Ratio  // of those weighed cold
	Tells     string
}

// YieldNoteOf reads the note of an order by its number.
func (s *Store) YieldNoteOf(ctx context.Context, number int) (*YieldNote, error) {
	db := s.read(ctx)
	o, err := take[shop.Order](db, "The order", "number = ?", number)
	if err != nil {
		return nil, err
	}
	return s.yieldNote(db, o)
}

// YieldNoteFor reads the note by the order's private link, for the farm.
func (s *Store) YieldNoteFor(ctx context.Context, secret string) (*YieldNote, error) {
	db := s.read(ctx)
	o, err := take[shop.Order](db, "The order", "token_hash = ?", hashOf(secret))
	if err != nil {
		return nil, err
	}
	n, err := s.yieldNote(db, o)
	if err != nil {
		return nil, err
	}
	n.Order.Why = ""
	return n, nil
}

func (s *Store) yieldNote(db *gorm.DB, o *shop.Order) (*YieldNote, error) {
	if o.State != shop.Delivered && o.State != shop.Settled {
		return nil, shop.Missing("What the animals gave, before they are weighed in,")
	}
	kd, err := take[shop.KillDay](db, "The kill day", "id = ?", o.KillDayID)
	if err != nil {
		return nil, err
	}
	y, err := yieldOf(db, o.FarmID, o.Species)
	if err != nil {
		return nil, err
	}
	n := &YieldNote{Order: *o, Farm: y.Farm, Kill: kd.Day}
	bellies, err := s.bellies(db, o.ID, "a.order_id = ? AND a.condemned = ? ORDER BY a.number, s.which", o.ID, false)
	if err != nil {
		return nil, err
	}
	if err := s.noteAnimals(db, o, bellies, n); err != nil {
		return nil, err
	}
	var cuts []carcass.BellyCut
	for _, b := range bellies {
		cuts = append(cuts, b.Cut)
		n.Slabs += b.Cut.Slabs.Count
	}
	n.Tells = y.Profile.Tell(s.Rules.SlabRule(), cuts)
	if n.Season, err = s.seasonNote(db, o, y, kd.Day); err != nil {
		return nil, err
	}
	var sent shop.Notice
	err = db.Where("key = ?", noteKey(o.ID)).Limit(1).Find(&sent).Error
	n.SentAt = sent.CreatedAt
	return n, err
}

func noteKey(id shop.OrderID) string { return fmt.Sprintf("yield-note/%d", id) }

func (s *Store) noteAnimals(db *gorm.DB, o *shop.Order, bellies []BellyLine, n *YieldNote) error {
	animals, err := many[shop.Animal](db, "number", "order_id = ?", o.ID)
	if err != nil {
		return err
	}
	sides, err := many[shop.Side](db, "animal_id, which", "animal_id IN (SELECT id FROM animals WHERE order_id = ?)", o.ID)
	if err != nil {
		return err
	}
	for _, a := range animals {
		na := NoteAnimal{Name: animalTag(a), Condemned: a.Condemned, Hot: a.Hot}
		if a.Condemned {
			n.Animals = append(n.Animals, na)
			continue
		}
		for _, sd := range sides {
			if sd.AnimalID != a.ID {
				continue
			}
			ns := NoteSide{Which: sd.Which, Cold: sd.Cold, Hind: sd.Hind, Fore: sd.Fore}
			for _, b := range bellies {
				if b.SideID == sd.ID {
					ns.Belly, ns.Slabs, ns.Each, ns.Skin = b.Weight, b.Cut.Slabs.Count, b.Cut.Slabs.Each, b.SkinOn
				}
			}
			na.Cold += sd.Cold
			na.Sides = append(na.Sides, ns)
		}
		if na.Hot > 0 && na.Cold > 0 {
			na.Shrink = (na.Hot - na.Cold).RatioOf(na.Hot)
			n.Hot, n.Cold = n.Hot+na.Hot, n.Cold+na.Cold
		}
		n.Animals = append(n.Animals, na)
	}
	if n.Hot > 0 {
		n.Shrink = (n.Hot - n.Cold).RatioOf(n.Hot)
	}
	return nil
}

// seasonNote adds up a farm's year to the kill of an order.
func (s *Store) seasonNote(db *gorm.DB, o *shop.Order, y farmYield, kill unit.Day) (SeasonNote, error) {
	n := SeasonNote{From: unit.DayOf(kill.Year(), time.January, 1)}
	var rows []struct {
		Hot       unit.Weight
		Cold      unit.Weight
		Condemned bool
	}
	where := `a.order_id IN (SELECT o.id FROM orders o JOIN kill_days k ON k.id = o.kill_day_id
		WHERE o.farm_id = ? AND o.species = ? AND k.day BETWEEN ? AND ? AND o.state IN ?)`
	args := []any{o.FarmID, o.Species, n.From, kill, []shop.OrderState{shop.Delivered, shop.Settled}}
	err := db.Raw(`SELECT a.hot, a.condemned, coalesce((SELECT sum(s.cold) FROM sides s WHERE s.animal_id = a.id), 0) AS cold
		FROM animals a WHERE `+where+" ORDER BY a.id", args...).Scan(&rows).Error
	if err != nil {
		return n, fmt.Errorf("a farm's year: %w", err)
	}
	var hot, weighed, cold unit.Weight
	for _, r := range rows {
		if r.Condemned {
			n.Condemned++
			continue
		}
		n.Hung++
		hot += r.Hot
		if r.Cold > 0 {
			weighed, cold = weighed+r.Hot, cold+r.Cold
		}
	}
	if n.Hung > 0 {
		n.Hot = hot.MulDiv(1, int64(n.Hung))
	}
	if weighed > 0 {
		n.Shrink = (weighed - cold).RatioOf(weighed)
	}
	bellies, err := s.bellies(db, 0, where+" AND a.condemned = ? ORDER BY b.id", append(args, false)...)
	if err != nil {
		return n, err
	}
	var cuts []carcass.BellyCut
	for _, b := range bellies {
		cuts = append(cuts, b.Cut)
	}
	n.Tells = y.Profile.Tell(s.Rules.SlabRule(), cuts)
	return n, nil
}

// Lines is the note as its mail tells it.
func (n YieldNote) Lines() []string {
	var out []string
	if n.Hot > 0 {
		out = append(out, fmt.Sprintf("%s hot, %s cold on our scale: %s lost between the two.", n.Hot.LB(), n.Cold.LB(), n.Shrink.Pct(1)))
	}
	if n.Tells != "" {
		out = append(out, fmt.Sprintf("%d slabs: %s.", n.Slabs, n.Tells))
	}
	if s := n.SeasonText(); s != "" {
		out = append(out, s)
	}
	return out
}

// SeasonText is the farm's year so far in one sentence.
func (n YieldNote) SeasonText() string {
	s := n.Season
	if s.Hung == 0 {
		return ""
	}
	line := fmt.Sprintf("Since %s: %s hung, %s a head", s.From.ShowYear(), shop.AnimalsIn(n.Order.Species, s.Hung), s.Hot.LB())
	if s.Condemned > 0 {
		line += fmt.Sprintf(", %d condemned", s.Condemned)
	}
	if s.Tells != "" {
		line += "; " + s.Tells
	}
	return line + "."
}

// SendYieldNote mails the note to the farm, once.
func (s *Store) SendYieldNote(ctx context.Context, by shop.Actor, id shop.OrderID) error {
	return s.tx(ctx, func(t tx) error {
		o, err := take[shop.Order](t.DB, "The order", "id = ?", id)
		if err != nil {
			return err
		}
		if err := t.lock("orders", int64(id)); err != nil {
			return err
		}
		n, err := s.yieldNote(t.DB, o)
		if err != nil {
			return err
		}
		if n.SentAt != 0 {
			return shop.Stop("note_sent", "The note went to %s on %s already.", n.Farm.Name, n.SentAt.Show(s.Loc))
		}
		if n.Farm.Email == "" {
			return shop.Stop("no_address", "There is no mail address for %s: print the note.", n.Farm.Name)
		}
		f := shop.Facts{Ref: o.Ref(), Farm: n.Farm.Name, Species: o.Species, Animals: o.Delivered, KillDay: n.Kill, Lines: n.Lines()}
		for _, a := range n.Animals {
			f.Weights = append(f.Weights, a.Line())
		}
		if err := t.tell(shop.Notice{Key: noteKey(o.ID), Kind: shop.NoticeYieldNote, ToName: n.Farm.Name, ToAddr: n.Farm.Email, Subject: "order", SubjectID: int64(o.ID)}, f); err != nil {
			return err
		}
		return t.note(by, "order", int64(o.ID), "yield note", "", n.Farm.Email, n.Tells)
	})
}

// Line is the animal in one line.
func (a NoteAnimal) Line() string {
	if a.Condemned {
		return a.Name + ": condemned at inspection"
	}
	s := fmt.Sprintf("%s: %s hot, %s cold", a.Name, a.Hot.LB(), a.Cold.LB())
	for _, sd := range a.Sides {
		if sd.Belly > 0 || sd.Hind > 0 {
			s += "; " + sd.Text()
		}
	}
	return s
}

// Text is the side in words.
func (s NoteSide) Text() string {
	switch {
	case s.Belly > 0:
		text := fmt.Sprintf("%s belly %s, %d × %s", s.Which, s.Belly.LB(), s.Slabs, s.Each.LB())
		if s.Skin {
			text += " with the skin on"
		}
		return text
	case s.Hind > 0:
		return fmt.Sprintf("%s hindquarter %s, forequarter %s", s.Which, s.Hind.LB(), s.Fore.LB())
	case s.Which == "W":
		return "whole " + s.Cold.LB()
	}
	return s.Which + " " + s.Cold.LB()
}
