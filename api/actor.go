package api

import (
	"context"

	"github.com/labstack/echo/v4"

	"flitchbook/api/shop"
)

type actorKey struct{}

// SetActor marks a request as made by a signed-in person. The session middleware
// calls it; nothing else may.
func SetActor(c echo.Context, by shop.Actor) {
	r := c.Request()
	c.SetRequest(r.WithContext(context.WithValue(r.Context(), actorKey{}, by)))
}

// Actor is who made the request: a signed-in person, or a visitor.
func Actor(c echo.Context) shop.Actor { return actorOf(c.Request().Context()) }

func actorOf(ctx context.Context) shop.Actor {
	if by, ok := ctx.Value(actorKey{}).(shop.Actor); ok {
		return by
	}
	return shop.Customer("visitor")
}

// need returns nil when the actor has one of the roles; no roles means anybody.
func need(by shop.Actor, roles []shop.Role) error {
	if len(roles) == 0 || by.May(roles...) {
		return nil
	}
	if !by.IsStaff() {
		return shop.ErrSignIn
	}
	return shop.ErrNotAllowed
}

// Need lets only signed-in people with one of the roles pass; the owner always may.
func Need(roles ...shop.Role) echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			if err := need(Actor(c), roles); err != nil {
				return err
			}
			return next(c)
		}
	}
}
