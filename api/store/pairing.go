package store

import (
	"context"
	"strings"

	"flitchbook/api/shop"
)

// CheckPairing looks at a slab on its hook a second time: tag and hook are scanned, and
// must be the pair on record. Until then its bag label stays with the tub, for nothing of
// paper lives through the smoke.
func (s *Store) CheckPairing(ctx context.Context, by shop.Actor, tag, hook string) error {
	return s.tx(ctx, func(t tx) error {
		sl, err := t.slabByTag(tag)
		if err != nil {
			return err
		}
		if sl.State != shop.InSmoke {
			return shop.Stop("wrong_state", "%s is %q: only what hangs is checked against its hook.", sl.Tag, sl.State)
		}
		p, err := t.placeByCode(hook, "hook", shop.Hook)
		if err != nil {
			return err
		}
		at, err := placeOf(t.DB, sl.ID)
		if err != nil {
			return err
		}
		if at == nil || at.ID != p.ID {
			other := "nothing"
			var tags []string
			if err := t.Raw("SELECT slabs.tag FROM slabs JOIN placements ON placements.slab_id = slabs.id AND placements.until_at = 0 WHERE placements.place_id = ?", p.ID).Scan(&tags).Error; err != nil {
				return err
			}
			if len(tags) > 0 {
				other = strings.Join(tags, ", ")
			}
			where := "no hook"
			if at != nil {
				where = at.Code
			}
			return shop.Stop("not_paired", "By the record %s hangs on %s, and on %s hangs %s. Leave the bag labels with the tub and look.", sl.Tag, where, p.Code, other)
		}
		res := t.Model(&shop.LoadSlab{}).Where("slab_id = ? AND place_id = ? AND checked_at = 0", sl.ID, p.ID).
			Updates(map[string]any{"checked_at": t.now, "checked_by": by.Name})
		if res.Error != nil {
			return res.Error
		}
		if res.RowsAffected == 0 {
			return nil // checked before
		}
		return t.note(by, "slab", int64(sl.ID), "pairing checked", "", p.Code, "")
	})
}
