-- Makes the two logins and the database on a server of your own, once, as its
-- superuser, with psql and the two passwords in the environment. What each login
-- may do is for the migrations to say; they run as settlemark_owner.
\set ON_ERROR_STOP on
\getenv owner_password SETTLEMARK_OWNER_PASSWORD
\getenv app_password SETTLEMARK_APP_PASSWORD
create role settlemark_owner login password :'owner_password';
create role settlemark_app login password :'app_password';
create database settlemark owner settlemark_owner;
