package store

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

// Evidence is a piece without a tag as it was weighed and seen.
type Evidence struct {
	Letter  string
	Drained unit.Weight
	Spice   string // code of the jar as can be seen; "" when it cannot be told
}

// LostView is a case of lost tags as it stands.
type LostView struct {
	shop.LostTags
	Slabs []LostSlab
	Told  []cure.Told // what the newest evidence says; of a settled case what was decided
	Piece []shop.FoundPiece
	Drop  []string // tags that get no piece as things stand: they are dumped
}

// LostSlab is one of the slabs whose tags are lost.
type LostSlab struct {
	Tag     string
	Owner   string // first name, or "the shop"
	Green   unit.Weight
	Spice   string // code of the jar on it
	Jar     string
	State   shop.SlabState
	Animal  string // and side, as the trail names them
	Same    string `json:"-"`
	Settled string // letter of the piece that got its tag
}

// LoseTags records that slabs came out of the rinse without their tags: in and out are how
// many were counted in and out of it. They are unproven and go no further until two people
// have told them apart (R35). Nobody is written to.
func (s *Store) LoseTags(ctx context.Context, by shop.Actor, tags []string, in, out int) (id shop.LostID, err error) {
	var w shop.Wrong
	if len(tags) == 0 {
		w.Add("tags", "Name the tags that are missing, such as B5-02, B5-03.")
	}
	if in < 1 || in > 500 {
		w.Add("in", "Count how many went into the rinse.")
	}
	if out < 0 || out > in {
		w.Add("out", "Count how many came out; no more than went in.")
	}
	if len(tags) > in {
		w.Add("in", "More tags are missing than slabs went in.")
	}
	if err := w.Err(); err != nil {
		return 0, err
	}
	err = s.tx(ctx, func(t tx) error {
		l := &shop.LostTags{In: in, Out: out, OpenedAt: t.now, OpenedBy: by.Name}
		if err := t.Create(l).Error; err != nil {
			return err
		}
		id = l.ID
		seen := map[shop.SlabID]bool{}
		for _, tag := range tags {
			sl, err := t.slabByTag(tag)
			if err != nil {
				return err
			}
			if seen[sl.ID] {
				return field("tags", "%s stands twice.", sl.Tag)
			}
			seen[sl.ID] = true
			if sl.State != shop.InCure && sl.State != shop.Rinsed {
				return shop.Stop("wrong_state", "%s is %q. Slabs are told apart by what they weigh out of the rinse; a tag lost at any other time makes a slab that must be held and dumped.", sl.Tag, sl.State)
			}
			if sl.State == shop.InCure && t.today < sl.UnbagFrom {
				return shop.Stop("too_early", "%s may leave its bag on %s at the earliest, so it cannot be in the rinse.", sl.Tag, sl.UnbagFrom.Show())
			}
			m := move{by: by, scan: Scan{Tag: sl.Tag, Once: fmt.Sprintf("lost %d", l.ID)}, to: shop.Unproven, reading: fmt.Sprintf("came out of the rinse without its tag: %d in, %d out, %d tags missing", in, out, len(tags))}
			if moved, err := t.moveSlab(sl, m); err != nil || !moved {
				return err
			}
			if err := t.freePlace(sl.ID); err != nil {
				return err
			}
			if err := t.Create(&shop.LostSlab{LostID: l.ID, SlabID: sl.ID}).Error; err != nil {
				return err
			}
		}
		return t.note(by, "lost tags", int64(l.ID), "opened", "", "", fmt.Sprintf("%s: %d in, %d out", strings.ToUpper(strings.Join(tags, ", ")), in, out))
	})
	return id, err
}

// FoundPieces takes the evidence on every piece without a tag. Taken again it replaces
// nothing: the newest counts, and initials under older evidence count no more.
func (s *Store) FoundPieces(ctx context.Context, by shop.Actor, id shop.LostID, pieces []Evidence) error {
	return s.tx(ctx, func(t tx) error {
		l, err := t.lockLost(id)
		if err != nil {
			return err
		}
		v, err := s.lostView(t.DB, l)
		if err != nil {
			return err
		}
		var found []cure.Found
		for _, p := range pieces {
			f := cure.Found{Letter: strings.ToUpper(trim(p.Letter)), Drained: p.Drained, Spice: strings.ToUpper(trim(p.Spice))}
			if f.Spice != "" {
				if _, err := take[shop.Jar](t.DB, "The jar "+f.Spice, "code = ?", f.Spice); err != nil {
					return err
				}
			}
			found = append(found, f)
		}
		told, err := cure.TellApart(found, v.missing(), l.In, l.Out)
		if err != nil {
			return shop.Bad("pieces", "%s.", sentence(err.Error()))
		}
		for _, d := range told {
			p := &shop.FoundPiece{LostID: l.ID, Round: l.Round + 1, Letter: d.Letter, Drained: d.Drained, Spice: d.Spice, Way: string(d.Way), Reason: d.Reason, Actor: by.Name, At: t.now}
			if err := t.Create(p).Error; err != nil {
				return err
			}
		}
		res := t.Model(&shop.LostTags{}).Where("id = ? AND round = ? AND closed_at = 0", l.ID, l.Round).Updates(map[string]any{"round": l.Round + 1, "first_by": "", "first_at": 0})
		if err := changed(res, shop.ErrMoved); err != nil {
			return err
		}
		return t.note(by, "lost tags", int64(l.ID), "evidence", "", "", toldInWords(told))
	})
}

func toldInWords(told []cure.Told) string {
	var out []string
	for _, d := range told {
		var shares []string
		for _, f := range d.Fits {
			shares = append(shares, f.Share+" of "+f.Tag)
		}
		spice := d.Spice
		if spice == "" {
			spice = "cannot be told"
		}
		out = append(out, fmt.Sprintf("%s %s drained (%s), spice %s: %s, %s", d.Letter, d.Drained.LB(), strings.Join(shares, ", "), spice, d.Way, d.Reason))
	}
	return strings.Join(out, "; ")
}

func (t tx) lockLost(id shop.LostID) (*shop.LostTags, error) {
	if err := t.lock("lost_tags", int64(id)); err != nil {
		return nil, err
	}
	l, err := take[shop.LostTags](t.DB, "This case of lost tags", "id = ?", id)
	if err != nil {
		return nil, err
	}
	if l.ClosedAt != 0 {
		return nil, shop.Stop("settled", "This was settled %s by %s and %s.", l.ClosedAt.Show(t.s.Loc), l.FirstBy, l.SecondBy)
	}
	return l, nil
}

// InitialLost puts a person's initials under what the evidence says. Round names the
// evidence they looked at. The second person's settle it: pieces that can be one slab only
// are tagged again, equals are shared out by draw, the rest is dumped and its people may
// choose. The same person twice is refused.
func (s *Store) InitialLost(ctx context.Context, by shop.Actor, id shop.LostID, round int) (settled bool, err error) {
	if !by.IsStaff() || trim(by.Name) == "" {
		return false, shop.ErrNotAllowed
	}
	err = s.tx(ctx, func(t tx) error {
		settled = false
		l, err := t.lockLost(id)
		if err != nil {
			return err
		}
		switch {
		case l.Round == 0:
			return shop.Stop("no_evidence", "Weigh the pieces first: there is nothing to put initials under.")
		case round != l.Round:
			return shop.ErrMoved.Saying("The pieces were weighed again meanwhile. Look at what it says now.")
		case l.FirstBy == by.Name:
			return shop.Stop("same_person", "%s has put initials here already. The second must be another person's.", by.Name)
		case l.FirstBy == "":
			err := changed(t.Model(&shop.LostTags{}).Where("id = ? AND first_by = '' AND round = ?", l.ID, l.Round).
				Updates(map[string]any{"first_by": by.Name, "first_at": t.now}), shop.ErrMoved)
			if err != nil {
				return err
			}
			return t.note(by, "lost tags", int64(l.ID), "first initials", "", "", "")
		}
		settled = true
		return t.settleLost(by, l)
	})
	return settled, err
}

func (t tx) settleLost(by shop.Actor, l *shop.LostTags) error {
	v, err := t.s.lostView(t.DB, l)
	if err != nil {
		return err
	}
	for _, m := range v.Slabs {
		if m.State != shop.Unproven {
			return shop.Stop("wrong_state", "%s is %q now: that has to be decided first.", m.Tag, m.State)
		}
	}
	found := make([]cure.Found, len(v.Told))
	for i, d := range v.Told {
		found[i] = d.Found
	}
	shared := cure.ShareOut(v.Told, func(n int) int { return int(uint64(t.s.Config.Rand()) % uint64(n)) })
	if err := cure.CheckShared(found, v.missing(), shared); err != nil {
		return fmt.Errorf("lost tags %d: %w", l.ID, err)
	}
	given := map[string]bool{}
	for _, d := range v.Told {
		tag, ok := shared[d.Letter]
		if !ok {
			continue
		}
		given[tag] = true
		if err := t.tagAgain(by, l, d, tag); err != nil {
			return err
		}
	}
	for _, m := range v.Slabs {
		if given[m.Tag] {
			continue
		}
		if err := t.dumpLost(by, l, m.Tag); err != nil {
			return err
		}
	}
	err = changed(t.Model(&shop.LostTags{}).Where("id = ? AND closed_at = 0 AND round = ?", l.ID, l.Round).
		Updates(map[string]any{"second_by": by.Name, "closed_at": t.now}), shop.ErrMoved)
	if err != nil {
		return err
	}
	return t.note(by, "lost tags", int64(l.ID), "settled", "", "", toldInWords(v.Told)+"; initials "+l.FirstBy+", "+by.Name)
}

func (t tx) tagAgain(by shop.Actor, l *shop.LostTags, d cure.Told, tag string) error {
	sl, err := t.slabByTag(tag)
	if err != nil {
		return err
	}
	share := ""
	for _, f := range d.Fits {
		if f.Tag == tag {
			share = f.Share
		}
	}
	reading := fmt.Sprintf("piece %s tagged again: drained %s, %s of green", d.Letter, d.Drained.LB(), share)
	if d.Way == cure.Draw {
		reading += "; shared out by draw between " + strings.Join(d.Tags, " and ")
	}
	m := move{by: by, to: shop.Rinsed, scan: Scan{Tag: sl.Tag, Once: fmt.Sprintf("lost %d", l.ID)}, reading: reading,
		reason: fmt.Sprintf("%s; initials %s, %s", d.Reason, l.FirstBy, by.Name)}
	if moved, err := t.moveSlab(sl, m); err != nil || !moved {
		return err
	}
	for _, other := range d.Tags {
		if d.Way != cure.Draw {
			break
		}
		o, err := t.slabByTag(other)
		if err != nil {
			return err
		}
		if err := t.Create(&shop.SlabCandidate{SlabID: sl.ID, CandidateID: o.ID, LostID: l.ID}).Error; err != nil {
			return err
		}
	}
	return t.Model(&shop.FoundPiece{}).Where("lost_id = ? AND round = ? AND letter = ?", l.ID, l.Round, d.Letter).Update("slab_id", sl.ID).Error
}

func (t tx) dumpLost(by shop.Actor, l *shop.LostTags, tag string) error {
	sl, err := t.slabByTag(tag)
	if err != nil {
		return err
	}
	m := move{by: by, to: shop.Dumped, scan: Scan{Tag: sl.Tag, Once: fmt.Sprintf("lost %d", l.ID)}, reading: "no piece could be proven to be it",
		reason: fmt.Sprintf("tag lost; initials %s, %s", l.FirstBy, by.Name)}
	if moved, err := t.moveSlab(sl, m); err != nil || !moved {
		return err
	}
	return t.tellDumped(sl)
}

// LostCases lists cases of lost tags, open ones first, newest first.
func (s *Store) LostCases(ctx context.Context) ([]LostView, error) {
	db := s.read(ctx)
	rows, err := many[shop.LostTags](db, "CASE WHEN closed_at = 0 THEN 0 ELSE 1 END, id DESC", "1 = 1")
	if err != nil {
		return nil, err
	}
	var out []LostView
	for i := range rows {
		v, err := s.lostView(db, &rows[i])
		if err != nil {
			return nil, err
		}
		out = append(out, *v)
	}
	return out, nil
}

// LostCase reads one case.
func (s *Store) LostCase(ctx context.Context, id shop.LostID) (*LostView, error) {
	db := s.read(ctx)
	l, err := take[shop.LostTags](db, "This case of lost tags", "id = ?", id)
	if err != nil {
		return nil, err
	}
	return s.lostView(db, l)
}

func (s *Store) lostView(db *gorm.DB, l *shop.LostTags) (*LostView, error) {
	v := &LostView{LostTags: *l}
	slabs, err := many[shop.Slab](db, "class_id, number", "id IN (SELECT slab_id FROM lost_slabs WHERE lost_id = ?)", l.ID)
	if err != nil {
		return nil, err
	}
	tagOf := map[shop.SlabID]string{}
	for i := range slabs {
		m, err := lostSlab(db, &slabs[i])
		if err != nil {
			return nil, err
		}
		tagOf[slabs[i].ID] = m.Tag
		v.Slabs = append(v.Slabs, *m)
	}
	if v.Piece, err = many[shop.FoundPiece](db, "id", "lost_id = ? AND round = ?", l.ID, l.Round); err != nil || l.Round == 0 {
		return v, err
	}
	var found []cure.Found
	got := map[string]bool{}
	for _, p := range v.Piece {
		found = append(found, cure.Found{Letter: p.Letter, Drained: p.Drained, Spice: p.Spice})
		if tag := tagOf[p.SlabID]; tag != "" {
			got[tag] = true
			i := slices.IndexFunc(v.Slabs, func(m LostSlab) bool { return m.Tag == tag })
			v.Slabs[i].Settled = p.Letter
		}
	}
	if v.Told, err = cure.TellApart(found, v.missing(), l.In, l.Out); err != nil {
		return nil, fmt.Errorf("lost tags %d: %w", l.ID, err)
	}
	// Before the draw, as many are dropped as there are more slabs than pieces for them.
	if l.ClosedAt == 0 {
		for _, tag := range cure.ShareOut(v.Told, func(int) int { return 0 }) {
			got[tag] = true
		}
	}
	for _, m := range v.Slabs {
		if !got[m.Tag] {
			v.Drop = append(v.Drop, m.Tag)
		}
	}
	return v, nil
}

func (v *LostView) missing() []cure.Missing {
	var out []cure.Missing
	for _, m := range v.Slabs {
		out = append(out, cure.Missing{Tag: m.Tag, Green: m.Green, Spice: m.Spice, Same: m.Same})
	}
	return out
}

// lostSlab reads what is on a slab: two with the same are equals for whoever eats them.
func lostSlab(db *gorm.DB, sl *shop.Slab) (*LostSlab, error) {
	m := &LostSlab{Tag: sl.Tag, Green: sl.Green, State: sl.State, Owner: "the shop"}
	jar, _, err := jarOf(db, sl)
	if err != nil {
		return nil, err
	}
	m.Spice, m.Jar = jar.Code, jar.Name
	var name, animal string
	if err := db.Raw("SELECT guests.name FROM guests JOIN seats ON seats.guest_id = guests.id WHERE seats.id = ?", sl.SeatID).Scan(&name).Error; err != nil {
		return nil, err
	}
	if sl.SeatID != 0 {
		m.Owner = firstName(name)
	}
	if err := db.Raw("SELECT animals.tag || ' ' || sides.which FROM bellies JOIN sides ON sides.id = bellies.side_id JOIN animals ON animals.id = sides.animal_id WHERE bellies.id = ?", sl.BellyID).Scan(&animal).Error; err != nil {
		return nil, err
	}
	m.Animal = animal
	var lots []int64
	err = db.Raw(`SELECT DISTINCT wl.lot_id FROM weigh_out_lots wl JOIN weigh_outs w ON w.id = wl.weigh_out_id JOIN cure_tickets k ON k.id = w.ticket_id
		WHERE w.slab_id = ? AND w.passed = ? AND k.superseded_at = 0 ORDER BY wl.lot_id`, sl.ID, true).Scan(&lots).Error
	if err != nil {
		return nil, err
	}
	var cured struct{ RecipeID, CureLotID int64 }
	if err := db.Raw("SELECT recipe_id, cure_lot_id FROM cure_tickets WHERE slab_id = ? AND superseded_at = 0", sl.ID).Scan(&cured).Error; err != nil {
		return nil, err
	}
	m.Same = fmt.Sprint(jar.ID, sl.SkinOn, cured, lots)
	return m, nil
}
