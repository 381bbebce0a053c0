package frontend

import (
	"net/http"
	"sync"

	"github.com/labstack/echo/v4"
)

// A keptPage is a page's bytes under the records and the minute they were made from. What
// a page says of time changes on a full minute: prices, classes that begin, the clock.
type keptPage struct {
	mu       sync.Mutex
	snapshot string
	minute   int64
	body     []byte
}

// unlessChanged answers a visitor with the kept bytes as long as nothing was committed
// since and the minute has not passed. Somebody signed in, or with a sentence waiting to
// be said, gets a page of their own. The records are named before they are read: a page
// may be kept too short, never too long.
func (s *Site) unlessChanged(c echo.Context, k *keptPage, l Layout, page func(Layout) ([]byte, error)) error {
	c.Response().Header().Set(echo.HeaderCacheControl, "no-store")
	if l.Actor.Role != Visitor || l.Flash != "" {
		body, err := page(l)
		if err != nil {
			return err
		}
		return c.HTMLBlob(http.StatusOK, body)
	}
	snapshot, err := s.Store.Snapshot(c.Request().Context())
	if err != nil {
		return err
	}
	body, err := k.get(snapshot, s.Store.Now().Time().Unix()/60, func() ([]byte, error) { return page(l) })
	if err != nil {
		return err
	}
	return c.HTMLBlob(http.StatusOK, body)
}

// get makes the page anew unless it is the one kept. Who comes meanwhile waits for it
// and does not make it again.
func (k *keptPage) get(snapshot string, minute int64, make func() ([]byte, error)) ([]byte, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.body == nil || k.snapshot != snapshot || k.minute != minute {
		body, err := make()
		if err != nil {
			return nil, err
		}
		k.snapshot, k.minute, k.body = snapshot, minute, body
	}
	return k.body, nil
}
