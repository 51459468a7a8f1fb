package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const hallScreenColumns = `id, name, site_id as site, made_at, expires_at, opened_at, ended_at, used_at`

const insertHallScreen = `
insert into hall_screens (id, name, site_id, token_hash, made_at, expires_at)
values (@id, @name, @site, @hash, @made, @expires)`

// AddHallScreen keeps a screen with the hash of its link.
func (t *Tx) AddHallScreen(ctx context.Context, v commissioning.HallScreen, hash []byte) error {
	return t.exec(ctx, insertHallScreen, args{
		"id": v.ID, "name": v.Name, "site": v.Site, "hash": hash, "made": v.MadeAt, "expires": v.ExpiresAt,
	})
}

const openHallScreen = `
update hall_screens set token_hash = @cookie, opened_at = @now
where token_hash = @link and opened_at is null and ended_at is null and expires_at > @now
returning ` + hallScreenColumns

// OpenHallScreen puts the hash of the screen's cookie in the place of that of its
// link, once. No screen is one whose link does not stand.
func (t *Tx) OpenHallScreen(ctx context.Context, link, cookie []byte, now time.Time) ([]commissioning.HallScreen, error) {
	return list[commissioning.HallScreen](ctx, t.tx, openHallScreen, args{"link": link, "cookie": cookie, "now": now})
}

const endHallScreen = `
update hall_screens set ended_at = @now where id = @id and ended_at is null
returning ` + hallScreenColumns

// EndHallScreen shuts a screen out and gives it; none when that was done before.
func (t *Tx) EndHallScreen(ctx context.Context, id string, now time.Time) ([]commissioning.HallScreen, error) {
	return list[commissioning.HallScreen](ctx, t.tx, endHallScreen, args{"id": id, "now": now})
}

const hallScreens = `select ` + hallScreenColumns + `
from hall_screens order by made_at desc, id`

// HallScreens gives all screens, the newest first.
func (d *DB) HallScreens(ctx context.Context) (_ []commissioning.HallScreen, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "HallScreens")
	return list[commissioning.HallScreen](ctx, d.pool, hallScreens, args{})
}

const hallScreenByCookie = `select ` + hallScreenColumns + `
from hall_screens where token_hash = @hash and opened_at is not null`

// HallScreen finds a screen by the hash of its cookie, whether it is still let in
// or not.
func (d *DB) HallScreen(ctx context.Context, cookie []byte) (_ commissioning.HallScreen, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "HallScreen")
	return one[commissioning.HallScreen](ctx, d.pool, hallScreenByCookie, args{"hash": cookie})
}

const useHallScreen = `update hall_screens set used_at = @now where id = @id`

// UseHallScreen notes when a screen last showed the board.
func (t *Tx) UseHallScreen(ctx context.Context, id string, now time.Time) error {
	return t.exec(ctx, useHallScreen, args{"id": id, "now": now})
}
