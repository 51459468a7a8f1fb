-- +goose Up
-- The language of pages: a person's own, else that of the site; '' is not chosen.
-- That of a site is also the language of its certificates.
alter table persons add column language text not null default '' check (language in ('', 'en', 'de'));
alter table sites add column language text not null default '' check (language in ('', 'en', 'de'));
