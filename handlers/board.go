package handlers

import (
	"context"
	"net/http"
	"strconv"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/live"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowBoard shows every unit of the person's sites and who waits for whom.
func (s *Screens) ShowBoard(w http.ResponseWriter, r *http.Request) error {
	p := session.Person(r)
	if err := p.MayAnywhere(commissioning.SeeBoard); err != nil {
		return err
	}
	board, err := s.board(r.Context(), p)
	if err != nil {
		return err
	}
	if board.Sites, err = s.DB.Sites(r.Context()); err != nil {
		return err
	}
	site, _ := strconv.ParseInt(r.URL.Query().Get("site"), 10, 64) // what names no line opens the first
	board = board.ByLine(commissioning.SiteID(site), r.URL.Query().Get("line"))
	f := respond.Frame(r, words.Say("Board"), templates.Board)
	f.Bare = true
	return respond.HTML(w, r, http.StatusOK, templates.BoardPage(f, board))
}

// BoardEvents streams the changes of the board.
func (s *Screens) BoardEvents(w http.ResponseWriter, r *http.Request) error {
	p := session.Person(r)
	if err := p.MayAnywhere(commissioning.SeeBoard); err != nil {
		return err
	}
	return s.Live.ServeBoard(w, r, p, s.watcher(r))
}

// BoardPieces renders the board of the reader's sites for every screen that
// watches the same sites.
func (s *Screens) BoardPieces(ctx context.Context, reader commissioning.Person) ([]live.Piece, error) {
	board, err := s.board(ctx, reader)
	if err != nil {
		return nil, err
	}
	return rendering(ctx, templates.BoardPieces(board))
}

// wrongProofsShown is how long the board shows as whom somebody was tried.
const wrongProofsShown = 24 * time.Hour

func (s *Screens) board(ctx context.Context, p commissioning.Person) (templates.BoardView, error) {
	now := s.Now()
	board, err := s.tiles(ctx, p, now)
	if err != nil {
		return board, err
	}
	if board.Told, err = s.DB.BoardNotices(ctx, p); err != nil {
		return board, err
	}
	tried, err := s.DB.WrongProofs(ctx, p, now.Add(-wrongProofsShown))
	if err != nil {
		return board, err
	}
	for _, t := range tried {
		board.TriedAs(t.Name, t.At, now)
	}
	return board.Sorted(), nil
}

// tiles is every unit of the sites that the person reads, and what comes of its
// state.
func (s *Screens) tiles(ctx context.Context, p commissioning.Person, now time.Time) (templates.BoardView, error) {
	rows, err := s.DB.Board(ctx, p)
	if err != nil {
		return templates.BoardView{}, err
	}
	standing, err := s.standing(ctx, p, now)
	if err != nil {
		return templates.BoardView{}, err
	}
	var board templates.BoardView
	for _, row := range rows {
		stands, released := standing[row.Unit.Tag]
		if row.Book == nil {
			board.Idle(row.Unit, released)
			if released {
				board.EndsSoon(stands, now)
			}
			continue
		}
		board.Live(row.Unit, viewOf(*row.Book, now))
	}
	return board, nil
}

// standing gives the valid release of each unit that has one today.
func (s *Screens) standing(ctx context.Context, p commissioning.Person, now time.Time) (map[string]commissioning.Certificate, error) {
	valid, err := s.DB.Certificates(ctx, p, db.CertificateFilter{Status: string(commissioning.Valid), Limit: 2000}, now)
	if err != nil {
		return nil, err
	}
	standing := map[string]commissioning.Certificate{}
	for _, c := range valid {
		standing[c.Unit] = c
	}
	return standing, nil
}
