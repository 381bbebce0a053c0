package store

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/carcass"
	"flitchbook/planner/demand"
	"flitchbook/planner/unit"
)

// OutletSheet is what the shop sells of each cut in a week, by way.
type OutletSheet struct {
	Cuts []OutletCut
}

// OutletCut is one cut of one animal.
type OutletCut struct {
	Species string
	Cut     string
	List    unit.Money // on the value list
	Ways    []shop.Outlet
}

// Outlets reads the sheet: every cut the farms' animals are reckoned to give, with what is
// known of it.
func (s *Store) Outlets(ctx context.Context) (*OutletSheet, error) {
	db := s.read(ctx)
	known, err := many[shop.Outlet](db, "id", "1 = 1")
	if err != nil {
		return nil, err
	}
	profiles, err := many[shop.YieldProfile](db, "id", "1 = 1")
	if err != nil {
		return nil, err
	}
	sheet, seen := &OutletSheet{}, map[string]bool{}
	add := func(species, cut string) {
		if seen[species+"/"+cut] {
			return
		}
		seen[species+"/"+cut] = true
		c := OutletCut{Species: species, Cut: cut, List: s.Rules.ValueOf(cut)}
		for _, way := range shop.OutletWays {
			o := shop.Outlet{Species: species, Cut: cut, Way: way}
			for _, k := range known {
				if k.Species == species && k.Cut == cut && k.Way == way {
					o = k
				}
			}
			c.Ways = append(c.Ways, o)
		}
		sheet.Cuts = append(sheet.Cuts, c)
	}
	for _, p := range profiles {
		c, err := p.Carcass("")
		if err != nil {
			return nil, err
		}
		for _, cut := range c.Rest {
			add(p.Species, cut.Cut)
		}
	}
	for _, k := range known {
		add(k.Species, k.Cut)
	}
	return sheet, nil
}

// SetOutlets keeps what the shop sells in a week. Outlets not named stay as they are; 0 lb
// closes one.
func (s *Store) SetOutlets(ctx context.Context, by shop.Actor, all []shop.Outlet) (changedCount int, err error) {
	for _, o := range all {
		if err := o.Check(); err != nil {
			return 0, err
		}
	}
	err = s.tx(ctx, func(t tx) error {
		changedCount = 0
		for _, o := range all {
			var was shop.Outlet
			if err := t.Where("species = ? AND cut = ? AND way = ?", o.Species, o.Cut, o.Way).Limit(1).Find(&was).Error; err != nil {
				return err
			}
			if was.Week == o.Week && was.Price == o.Price {
				continue
			}
			if _, err := upsert(t, &o, "species = ? AND cut = ? AND way = ?", o.Species, o.Cut, o.Way); err != nil {
				return err
			}
			say := func(o shop.Outlet) string { return fmt.Sprintf("%s a week at %s", o.Week.LB(), o.Price) }
			if err := t.note(by, "outlet", was.ID, o.Species+" "+o.Cut+", "+o.Way, say(was), say(o), ""); err != nil {
				return err
			}
			changedCount++
		}
		return nil
	})
	return changedCount, err
}

// sellLeft sends what each kill leaves with the seats expected down the week's outlets.
// Two deliveries of one week share them, the earlier first.
func sellLeft(db *gorm.DB, groups []MeatGroup) error {
	known, err := many[shop.Outlet](db, "id", "week > 0")
	if err != nil {
		return err
	}
	type week struct {
		monday  unit.Day
		species string
	}
	open := map[week][]carcass.Outlet{}
	for i := range groups {
		g := &groups[i]
		if g.Problem != "" {
			continue
		}
		w := week{g.Deliver.Monday(), g.Species}
		outlets, ok := open[w]
		if !ok {
			outlets = shop.OutletsFor(g.Species, known)
		}
		g.Shared = ok
		g.Sales = carcass.Sell(g.Bets[demand.Expected].Leaves.Cuts, outlets, 1)
		open[w] = g.Sales.After(outlets)
	}
	return nil
}
