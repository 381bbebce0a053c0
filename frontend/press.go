package frontend

import (
	"net/http"
	"strconv"

	"github.com/labstack/echo/v4"
)

// once is a token for one press of a button.
func (s *Site) once() string { return strconv.FormatInt(s.Store.Config.Rand(), 36) }

// formOf reads what was sent.
func formOf(c echo.Context) (Form, error) {
	v, err := c.FormParams()
	if err != nil {
		return Form{}, echo.NewHTTPError(http.StatusBadRequest)
	}
	return Form{Values: v}, nil
}
