-- +goose Up
-- Sign-in through the site's provider: one account there for one person here.
alter table identities add called text not null default ''; -- how the provider called them, to show
drop index identities_by_person;
create unique index identities_by_person on identities (person_id, issuer);

-- Persons see where they are signed in, and when a request last came from there.
alter table sessions add seen_at timestamptz not null default now();

insert into register_acts values ('sessions ended'), ('key file replaced');
