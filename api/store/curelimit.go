package store

import (
	"context"
	"errors"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

// LimitLine is a limit as the owner sees it: the shop's own row where it has one, else
// the program's.
type LimitLine struct {
	shop.CureLimit
	Listed *shop.CureLimit // the program's figures, where the shop took over others
}

// CureLimits lists the limits known, the chosen one first.
func (s *Store) CureLimits(ctx context.Context) ([]LimitLine, error) {
	return cureLimits(s.read(ctx))
}

func cureLimits(db *gorm.DB) ([]LimitLine, error) {
	own, err := many[shop.CureLimit](db, "id", "1 = 1")
	if err != nil {
		return nil, err
	}
	var first, rest []LimitLine
	add := func(l LimitLine) {
		if l.Chosen {
			first = append(first, l)
		} else {
			rest = append(rest, l)
		}
	}
	listed := map[string]bool{}
	for _, l := range cure.Limits() {
		line := LimitLine{CureLimit: shop.LimitFrom(l)}
		listed[l.ID] = true
		for _, o := range own {
			if o.Code == l.ID {
				if !o.SameFigures(line.CureLimit) {
					was := line.CureLimit
					line.Listed = &was
				}
				line.CureLimit = o
			}
		}
		add(line)
	}
	for _, o := range own {
		if !listed[o.Code] {
			add(LimitLine{CureLimit: o})
		}
	}
	return append(first, rest...), nil
}

// chosenLimit is the limit the shop works under, or nil while none is chosen.
func chosenLimit(db *gorm.DB) (*shop.CureLimit, error) {
	var l shop.CureLimit
	err := db.Where("chosen = ?", true).Take(&l).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return nil, nil
	}
	return &l, err
}

// ownLimit is the shop's row of a limit, made from the program's list when it has none.
func (t tx) ownLimit(code string) (*shop.CureLimit, error) {
	var l shop.CureLimit
	err := t.Where("code = ?", trim(code)).Take(&l).Error
	if !errors.Is(err, gorm.ErrRecordNotFound) {
		return &l, err
	}
	for _, k := range cure.Limits() {
		if k.ID == trim(code) {
			l = shop.LimitFrom(k)
			return &l, t.Create(&l).Error
		}
	}
	return nil, shop.Bad("code", "There is no limit called %q.", code)
}

// ChooseLimit makes a limit the one kits are made under from now on. Tickets that exist
// stay as they are; a slab that is not sealed yet is held against the new one at the
// bench.
func (s *Store) ChooseLimit(ctx context.Context, by shop.Actor, code, why string) error {
	if !by.May(shop.Owner) {
		return shop.ErrNotAllowed
	}
	if trim(why) == "" {
		return shop.Bad("why", "Say why this limit is the one you work under, such as where the shop stands.")
	}
	return s.tx(ctx, func(t tx) error {
		l, err := t.ownLimit(code)
		if err != nil {
			return err
		}
		if no := l.Cannot(); no != "" {
			return shop.Bad("code", "%s", no)
		}
		old, err := chosenLimit(t.DB)
		if err != nil {
			return err
		}
		from := ""
		if old != nil {
			if old.ID == l.ID {
				return shop.Stop("chosen_already", "The shop works under this limit already.")
			}
			from = old.Code
			if err := t.Model(&shop.CureLimit{}).Where("id = ?", old.ID).Update("chosen", false).Error; err != nil {
				return err
			}
		}
		if err := t.Model(&shop.CureLimit{}).Where("id = ?", l.ID).Updates(map[string]any{"chosen": true, "chosen_by": by.Name, "chosen_on": t.today}).Error; err != nil {
			return err
		}
		return t.note(by, "limit", l.ID, "chosen", from, l.Code, l.Words()+". "+trim(why))
	})
}

// Approval is what stands behind a limit.
type Approval struct {
	With string // whom it was agreed with: the inspector, the office
	Why  string // what was looked at
}

// ApproveLimit records that the owner checked a limit against its official text and
// agreed it with somebody. It changes no ticket.
func (s *Store) ApproveLimit(ctx context.Context, by shop.Actor, code string, a Approval) error {
	if !by.May(shop.Owner) {
		return shop.ErrNotAllowed
	}
	var w shop.Wrong
	if trim(a.With) == "" {
		w.Add("with", "Whom did you agree it with? Write the inspector's or the office's name.")
	}
	if trim(a.Why) == "" {
		w.Add("why", "What did you look at? Write the text and its date.")
	}
	if err := w.Err(); err != nil {
		return err
	}
	return s.tx(ctx, func(t tx) error {
		l, err := t.ownLimit(code)
		if err != nil {
			return err
		}
		was := l.Approval()
		l.ApprovedBy, l.ApprovedWith, l.ApprovedWhy, l.ApprovedOn = by.Name, trim(a.With), trim(a.Why), t.today
		err = t.Model(&shop.CureLimit{}).Where("id = ?", l.ID).Updates(map[string]any{"approved_by": l.ApprovedBy, "approved_with": l.ApprovedWith,
			"approved_why": l.ApprovedWhy, "approved_on": l.ApprovedOn}).Error
		if err != nil {
			return err
		}
		return t.note(by, "limit", l.ID, "approved", was, l.Approval(), l.Words())
	})
}

// furnishLimits takes over what a shop's document says, where nobody has decided yet.
func (t tx) furnishLimits(f shop.Furnishing) error {
	for _, fl := range f.Limits {
		l, err := t.ownLimit(fl.Code)
		if err != nil {
			return err
		}
		set := map[string]any{}
		if l.ApprovedOn == 0 && fl.ApprovedOn != 0 {
			set["approved_by"], set["approved_with"], set["approved_why"], set["approved_on"] = fl.ApprovedBy, fl.ApprovedWith, fl.ApprovedWhy, fl.ApprovedOn
		}
		old, err := chosenLimit(t.DB)
		if err != nil {
			return err
		}
		if fl.Chosen && old == nil {
			if no := l.Cannot(); no != "" {
				return shop.Bad("furnish", "The limit %s cannot be worked under. %s", fl.Code, no)
			}
			set["chosen"], set["chosen_by"], set["chosen_on"] = true, fl.ApprovedBy, fl.ApprovedOn
			if fl.ApprovedOn == 0 {
				set["chosen_on"] = t.today
			}
		}
		if len(set) == 0 {
			continue
		}
		if err := t.Model(&shop.CureLimit{}).Where("id = ?", l.ID).Updates(set).Error; err != nil {
			return err
		}
	}
	return nil
}

// A book is what kits are made by: the shop's recipe and the limit it works under.
type book struct {
	*shop.Recipe
	limit *shop.CureLimit // nil while none is chosen
}

// recipe is the planner's, under the chosen limit; where the recipe's own is stricter,
// that holds. Without a chosen limit the recipe's own is all there is.
func (b book) recipe() cure.Recipe {
	r := b.Recipe
	out := cure.Recipe{Name: r.Name, Salt: r.Salt, Sugar: r.Sugar, CuringSalt: r.Cure}
	own := cure.PPM(r.Limit) * cure.MgPerKg
	if b.limit == nil {
		l := cure.USDryBacon()
		l.Max, l.Floor = own, cure.PPM(r.Floor)*cure.MgPerKg
		l.SkinRule.Least = r.SkinShare
		l.ApprovedBy = r.ApprovedBy
		if r.Source != "" {
			l.Source = r.Source
		}
		out.Limit = l
		return out
	}
	l := b.limit.Limit()
	if own, ok := cure.Convert(own, cure.SodiumNitrite, l.Counted); ok && own > 0 && own >= l.Floor {
		l.Max = min(l.Max, own)
	}
	l.SkinRule.Least = max(l.SkinRule.Least, r.SkinShare)
	out.Limit = l
	return out
}

// caution is what must stand beside the limit until the owner has approved it.
func (b book) caution() string {
	if b.limit == nil {
		return ""
	}
	return b.limit.Caution()
}

// source is where the limit is from and who approved it.
func (b book) source() string {
	if b.limit == nil {
		return b.Source
	}
	if a := b.limit.Approval(); a != "" {
		return b.limit.Source + "; " + a
	}
	return b.limit.Source
}

// words is the limit in a line.
func (b book) words() string {
	return shop.LimitFrom(b.recipe().Limit).Words()
}

// stamp writes on a ticket what limit it was made under.
func (b book) stamp(k *shop.CureTicket) {
	l := b.recipe().Limit
	if b.limit != nil {
		k.LimitCode = l.ID
	}
	k.LimitMost = l.Max
	if m, ok := cure.Convert(l.Max, l.Counted, cure.SodiumNitrite); ok && l.Counted != cure.SodiumNitrite {
		k.LimitMost = m + 1 // rounded, and a ticket is never refused for that
	}
}

// skinShare is what counts as skin of a skin-on slab.
func (b book) skinShare() unit.Ratio { return b.recipe().Limit.SkinRule.Least }
