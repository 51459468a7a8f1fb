package act

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"image"
	"image/draw"
	"image/jpeg"
	_ "image/png" // decodes
	"time"

	xdraw "golang.org/x/image/draw"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Bounds of a photo: a PNG of 109 KB can unpack to 870 MB, so its size is asked
// before it is decoded.
const (
	maxPhotoBytes  = 12 << 20
	maxPhotoPixels = 50_000_000
	maxPhotoSide   = 12_000
	keptPhotoSide  = 2_560
	photoQuality   = 85
	photoQueue     = 10 * time.Second
)

// StorePhoto keeps a photo for the run: turned upright, at most 2,560 pixels a
// side, encoded anew as JPEG, so that nothing but the picture is left of the
// file. Its SHA-256 and the original's are kept; the entry that shows it names
// the first. The pen holder may, while the run is open.
func (a *Acts) StorePhoto(ctx context.Context, p commissioning.Person, run commissioning.RunID, original []byte, _ time.Time) (db.Photo, error) {
	kept, err := a.develop(ctx, original)
	if err != nil {
		return db.Photo{}, err
	}
	kept.Run, kept.By = run, p.ID
	sum := sha256.Sum256(original)
	var stored db.Photo
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		if err := lockRun(ctx, tx, p, run); err != nil {
			return err
		}
		if err := tx.StorePhoto(ctx, kept, sum[:]); err != nil {
			return err
		}
		all, err := tx.Photos(ctx, run)
		for _, photo := range all {
			if photo.SHA256 == kept.SHA256 {
				stored = photo
			}
		}
		return err
	})
	return stored, err
}

// develop makes the picture that is kept.
func (a *Acts) develop(ctx context.Context, original []byte) (db.PhotoBytes, error) {
	if len(original) > maxPhotoBytes {
		return db.PhotoBytes{}, problem.On("photo", "The photo is larger than 12 MB. Take it with a smaller size.")
	}
	config, format, err := image.DecodeConfig(bytes.NewReader(original))
	if err != nil || format != "jpeg" && format != "png" {
		return db.PhotoBytes{}, problem.On("photo", "This is no JPEG or PNG picture. Choose a photo.")
	}
	if config.Width > maxPhotoSide || config.Height > maxPhotoSide || config.Width*config.Height > maxPhotoPixels {
		return db.PhotoBytes{}, problem.On("photo", "The photo has more than 50 million pixels. Take it with a smaller size.")
	}
	ctx, cancel := context.WithTimeout(ctx, photoQueue)
	defer cancel()
	select {
	case a.photos <- struct{}{}:
		defer func() { <-a.photos }()
	case <-ctx.Done():
		return db.PhotoBytes{}, &problem.Error{Kind: problem.Busy, Sentence: words.Say("Many photos arrive just now. Try again in a moment."), Cause: ctx.Err()}
	}
	picture, _, err := image.Decode(bytes.NewReader(original))
	if err != nil {
		return db.PhotoBytes{}, problem.On("photo", "The photo is damaged and can't be read. Take it again.")
	}
	upright := turn(scale(picture), orientation(original))
	var jpg bytes.Buffer
	if err := jpeg.Encode(&jpg, upright, &jpeg.Options{Quality: photoQuality}); err != nil {
		return db.PhotoBytes{}, err
	}
	sum := sha256.Sum256(jpg.Bytes())
	return db.PhotoBytes{Bytes: jpg.Bytes(), Photo: db.Photo{
		SHA256: hex.EncodeToString(sum[:]), MediaType: "image/jpeg", Size: jpg.Len(),
		Width: upright.Bounds().Dx(), Height: upright.Bounds().Dy(),
	}}, nil
}

// scale brings the longer side down to what is kept, on white where the picture
// is transparent.
func scale(picture image.Image) *image.RGBA {
	from := picture.Bounds()
	w, h := from.Dx(), from.Dy()
	if longer := max(w, h); longer > keptPhotoSide {
		w, h = max(1, w*keptPhotoSide/longer), max(1, h*keptPhotoSide/longer)
	}
	to := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(to, to.Bounds(), image.White, image.Point{}, draw.Src)
	if w == from.Dx() && h == from.Dy() {
		draw.Draw(to, to.Bounds(), picture, from.Min, draw.Over)
	} else {
		xdraw.CatmullRom.Scale(to, to.Bounds(), picture, from, draw.Over, nil)
	}
	return to
}
