package store

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/planner/inspection"
	"flitchbook/planner/unit"
)

// RecordKill writes down the plant's paper: each animal's tag, hot carcass weight, and
// whether it was condemned (R23a).
func (s *Store) RecordKill(ctx context.Context, by shop.Actor, id shop.OrderID, animals []shop.KilledAnimal) (*shop.Order, error) {
	var o *shop.Order
	err := s.tx(ctx, func(t tx) (err error) {
		if o, err = take[shop.Order](t.DB, "The order", "id = ?", id); err != nil {
			return err
		}
		y, err := yieldOf(t.DB, o.FarmID, o.Species)
		if err != nil {
			return err
		}
		if err := shop.CheckKilled(animals, y.Row.HCW); err != nil {
			return err
		}
		bone, err := t.s.cutsOnBone(t.DB, o)
		if err != nil {
			return err
		}
		if err := shop.CheckAges(animals, bone); err != nil {
			return err
		}
		kd, err := take[shop.KillDay](t.DB, "The kill day", "id = ?", o.KillDayID)
		if err != nil {
			return err
		}
		if kd.Day > t.today {
			return shop.Stop("kill_ahead", "The kill is on %s.", kd.Day.Show())
		}
		condemned := 0
		for _, a := range animals {
			if a.Condemned {
				condemned++
			}
		}
		good := len(animals) - condemned
		set := map[string]any{"condemned": condemned, "short": good < o.Animals, "over": good > o.Animals}
		if err := t.moveOrder(by, o, shop.Killed, fmt.Sprintf("%d killed, %d condemned", len(animals), condemned), set); err != nil {
			return err
		}
		for i, a := range animals {
			row := shop.Animal{OrderID: o.ID, Number: i + 1, Tag: trim(a.Tag), Species: o.Species, Hot: a.Hot, Condemned: a.Condemned, Age: a.Age, KilledOn: kd.Day}
			if err := t.Create(&row).Error; err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return o, nil
}

// ReceiveDelivery weighs a delivery in. Without the plant's inspection mark nothing is
// taken. Every side gets its belly with the weight reckoned from the side; the sides of
// clinics are claimed; everything is counted again at once and the count returned.
func (s *Store) ReceiveDelivery(ctx context.Context, by shop.Actor, id shop.OrderID, legend string, sides []shop.DeliveredSide) (*Recount, error) {
	var r *Recount
	err := s.tx(ctx, func(t tx) error {
		o, err := take[shop.Order](t.DB, "The order", "id = ?", id)
		if err != nil {
			return err
		}
		if r, err = t.receive(by, o, trim(legend), sides); err != nil {
			return err
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return r, nil
}

func (t tx) receive(by shop.Actor, o *shop.Order, legend string, sides []shop.DeliveredSide) (*Recount, error) {
	if err := shop.OrderMoves.Check(o.State, shop.Delivered); err != nil {
		return nil, err
	}
	kd, err := take[shop.KillDay](t.DB, "The kill day", "id = ?", o.KillDayID)
	if err != nil {
		return nil, err
	}
	plant, err := take[shop.Plant](t.DB, "The slaughterhouse", "id = ?", kd.PlantID)
	if err != nil {
		return nil, err
	}
	if err := checkLegend(legend, plant); err != nil {
		return nil, err
	}
	y, err := yieldOf(t.DB, o.FarmID, o.Species)
	if err != nil {
		return nil, err
	}
	animals, err := many[shop.Animal](t.DB, "number", "order_id = ?", o.ID)
	if err != nil {
		return nil, err
	}
	if err := shop.CheckDelivered(sides, animals, y.Profile.Forecast().Side); err != nil {
		return nil, err
	}
	d := shop.Delivery{OrderID: o.ID, Day: t.today, At: t.now, Legend: legend, Lot: fmt.Sprintf("L%d-%s", o.Number, t.today), ReceivedBy: by.Name}
	if err := t.Create(&d).Error; err != nil {
		return nil, err
	}
	came := map[int]bool{}
	for _, s := range sides {
		came[s.Animal] = true
	}
	set := map[string]any{"delivered": len(came), "short": len(came) < o.Animals, "over": len(came) > o.Animals, "late": o.Late || t.today > o.DeliverOn}
	if err := t.moveOrder(by, o, shop.Delivered, fmt.Sprintf("lot %s, %d of %d", d.Lot, len(came), o.Animals), set); err != nil {
		return nil, err
	}
	if err := t.hangSides(&d, animals, sides, y); err != nil {
		return nil, err
	}
	if err := t.claimClinics(by, o); err != nil {
		return nil, err
	}
	r, err := t.s.recount(t.DB, o)
	if err != nil {
		return nil, err
	}
	if r.Short > 0 {
		err := t.tellShop(shop.Notice{Key: fmt.Sprintf("order-short/%d", o.ID), Kind: shop.NoticeOwnerTask, Subject: "order", SubjectID: int64(o.ID), Urgent: true},
			shop.Facts{Ref: o.Ref(), Farm: y.Farm.Name, Species: o.Species, Animals: o.Animals,
				Lines: []string{fmt.Sprintf("%s gives %d slabs of %d wanted: short %d. The order's page lists the ways out.", o.Ref(), r.Slabs, r.Wanted, r.Short)}})
		if err != nil {
			return nil, err
		}
	}
	return r, t.thankFarm(o, kd)
}

// checkLegend holds the inspection mark against the plant's number. Meat without one is
// uninspected or somebody's own and may be neither sold nor served.
func checkLegend(legend string, plant *shop.Plant) error {
	var w shop.Wrong
	squeeze := func(s string) string { return strings.ToUpper(strings.Join(strings.Fields(s), "")) }
	switch {
	case legend == "":
		w.Add("legend", "Meat without an inspection mark may not come in: uninspected, custom-killed and hunted meat is refused.")
	case strings.Contains(squeeze(legend), "NOTFORSALE"):
		w.AddErr("legend", inspection.Serve("", inspection.CustomExempt))
	case plant.Number != "" && squeeze(legend) != squeeze(plant.Number):
		w.Add("legend", "%s's number is %s. If the mark on the meat says otherwise, do not take it in before the plant has explained.", plant.Name, plant.Number)
	}
	return w.Err()
}

// hangSides stores the sides, with their quarters where they came quartered, and their
// bellies.
func (t tx) hangSides(d *shop.Delivery, animals []shop.Animal, sides []shop.DeliveredSide, y farmYield) error {
	for _, a := range animals {
		rows := sidesOf(a.Number, sides)
		for i := range rows {
			row := &rows[i]
			row.AnimalID = a.ID
			if err := t.Create(row).Error; err != nil {
				return err
			}
			if y.Profile.Belly == 0 {
				continue
			}
			belly := shop.Belly{SideID: row.ID, Weight: y.Profile.Break(row.Cold).Belly}
			if err := t.Create(&belly).Error; err != nil {
				return err
			}
		}
		if len(rows) == 0 {
			continue
		}
		res := t.Model(&shop.Animal{}).Where("id = ? AND condemned = ?", a.ID, false).Update("delivery_id", d.ID)
		if err := changed(res, shop.ErrMoved); err != nil {
			return err
		}
	}
	return nil
}

// sidesOf puts an animal's pieces together into sides, in the order they were weighed.
func sidesOf(animal int, pieces []shop.DeliveredSide) []shop.Side {
	var rows []shop.Side
	for _, p := range pieces {
		if p.Animal != animal {
			continue
		}
		which := p.Which[:1] // L, R or W
		i := slices.IndexFunc(rows, func(s shop.Side) bool { return s.Which == which })
		if i < 0 {
			i, rows = len(rows), append(rows, shop.Side{Which: which})
		}
		rows[i].Cold += p.Cold
		switch p.Which {
		case shop.LeftHind, shop.RightHind:
			rows[i].Hind = p.Cold
		case shop.LeftFore, shop.RightFore:
			rows[i].Fore = p.Cold
		}
	}
	return rows
}

// thankFarm sends the farm its weights.
func (t tx) thankFarm(o *shop.Order, kd *shop.KillDay) error {
	farm, f, err := t.slipFacts(o, kd)
	if err != nil {
		return err
	}
	animals, err := many[shop.Animal](t.DB, "number", "order_id = ?", o.ID)
	if err != nil {
		return err
	}
	for _, a := range animals {
		if a.Condemned {
			f.Weights = append(f.Weights, fmt.Sprintf("%s: condemned at inspection", animalTag(a)))
			continue
		}
		line := fmt.Sprintf("%s: %s hot", animalTag(a), a.Hot.LB())
		sides, err := many[shop.Side](t.DB, "which", "animal_id = ?", a.ID)
		if err != nil {
			return err
		}
		for _, s := range sides {
			line += ", " + sideInWords(s) + " cold"
		}
		f.Weights = append(f.Weights, line)
	}
	m := o.Money(animals, 0)
	f.Total, f.Lines = m.Farm+m.Haul, nil
	return t.tell(shop.Notice{Key: fmt.Sprintf("order-thanks/%d", o.ID), Kind: shop.NoticeOrderThanks, ToName: farm.Name, ToAddr: farm.Email, Subject: "order", SubjectID: int64(o.ID)}, f)
}

// sideInWords is a side with its weight: "L 99.9 lb", "L hindquarter … and forequarter …".
func sideInWords(s shop.Side) string {
	switch {
	case s.Which == shop.WholeCarcass:
		return "whole " + s.Cold.LB()
	case s.Hind > 0:
		return fmt.Sprintf("%s hindquarter %s and forequarter %s", s.Which, s.Hind.LB(), s.Fore.LB())
	}
	return s.Which + " " + s.Cold.LB()
}

// animalTag is how a carcass is called in the shop: "pig 2", with the farm's tag.
func animalTag(a shop.Animal) string {
	s := fmt.Sprintf("%s %d", shop.AnimalOf(a.Species), a.Number)
	if a.Tag != "" {
		s += " (" + a.Tag + ")"
	}
	return s
}

// WeighBelly replaces a belly's reckoned weight by the one on the scale.
func (s *Store) WeighBelly(ctx context.Context, by shop.Actor, id shop.BellyID, w unit.Weight) error {
	return s.tx(ctx, func(t tx) error {
		l, err := t.bellyLine(id)
		if err != nil {
			return err
		}
		if l.Moved > 0 {
			return shop.Stop("cut_already", "%s is cut already.", l.Tag)
		}
		if w <= 0 || w > l.Cold/2 {
			var wr shop.Wrong
			wr.Add("weight", "A belly of this side weighs between 0 and %s.", (l.Cold / 2).LB())
			return wr.Err()
		}
		res := t.Model(&shop.Belly{}).Where("id = ?", id).Updates(map[string]any{"weight": w, "measured": true})
		if err := changed(res, shop.ErrMoved); err != nil {
			return err
		}
		if err := t.note(by, "belly", int64(id), "weighed", l.Weight.String(), w.String(), l.Tag); err != nil {
			return err
		}
		return t.refreshCutList(l.OrderID)
	})
}
