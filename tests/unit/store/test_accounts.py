import pytest
from sqlalchemy import select

from fillwright.errors import StoreError
from fillwright.store.accounts import (
    accept_invitation,
    change_password,
    find_account_by_login,
    invite,
    sign_in,
)
from fillwright.store.schema import account, audit, invitation
from fillwright.store.sessions import add_session, list_sessions
from fillwright.store.students import Profile, add_student

WORDS = "three old drum sticks"


@pytest.fixture
def teacher(store, clock):
    with store.begin_writing() as connection:
        link = invite(connection, now=clock())
        return accept_invitation(connection, link, login="Ada ", password=WORDS, now=clock())


def test_a_new_teacher_has_data_of_their_own(store, clock, teacher):
    with store.begin_writing() as connection:
        other = accept_invitation(
            connection, invite(connection, now=clock()), login="bo", password=WORDS, now=clock()
        )
    assert teacher.role == other.role == "teacher"
    assert teacher.teacher != other.teacher
    assert teacher.login == "ada"


def test_signing_in_needs_both(store, teacher):
    with store.begin_reading() as connection:
        assert sign_in(connection, "ADA", WORDS) == teacher
        assert sign_in(connection, "ada", WORDS + "x") is None
        assert sign_in(connection, "nobody", WORDS) is None


def test_no_password_and_no_link_is_kept_readable(store, clock, teacher):
    with store.begin_writing() as connection:
        link = invite(connection, now=clock())
        kept = connection.execute(select(account.c.password)).scalar_one()
        assert kept.startswith("$argon2id$")
        assert link not in {row.token for row in connection.execute(select(invitation))}


def test_a_link_works_once_and_for_a_week(store, clock, teacher, transactions):
    with transactions(write=True, of=teacher.teacher) as transaction:
        student = add_student(transaction, Profile(name="Pim"))
        link = invite(
            transaction.connection, now=clock(), teacher_number=teacher.teacher, student_number=student
        )
    clock.pass_days(8)
    with store.begin_writing() as connection, pytest.raises(StoreError, match="used already or has expired"):
        accept_invitation(connection, link, login="pim", password=WORDS, now=clock())
    with store.begin_writing() as connection:
        link = invite(connection, now=clock(), teacher_number=teacher.teacher, student_number=student)
        made = accept_invitation(connection, link, login="pim", password=WORDS, now=clock())
        assert (made.role, made.teacher, made.student) == ("student", teacher.teacher, student)
        with pytest.raises(StoreError, match="used already or has expired"):
            accept_invitation(connection, link, login="pim2", password=WORDS, now=clock())
        with pytest.raises(StoreError, match="account already"):
            invite(connection, now=clock(), teacher_number=teacher.teacher, student_number=student)


def test_a_teacher_can_not_invite_anothers_student(store, clock, teacher, transactions):
    with transactions(write=True) as transaction:
        student = add_student(transaction, Profile(name="Pim"))
    with store.begin_writing() as connection, pytest.raises(StoreError, match="no such student"):
        invite(connection, now=clock(), teacher_number=teacher.teacher + 1, student_number=student)


@pytest.mark.parametrize(
    ("login", "password", "words"),
    [("bo", "short", "5 characters"), ("", WORDS, "login"), ("ada", WORDS, "is taken")],
)
def test_what_can_not_be_an_account_is_said_and_the_link_stays(store, clock, teacher, login, password, words):
    with store.begin_writing() as connection:
        link = invite(connection, now=clock())
    with pytest.raises(StoreError, match=words), store.begin_writing() as connection:
        accept_invitation(connection, link, login=login, password=password, now=clock())
    with store.begin_writing() as connection:
        assert accept_invitation(connection, link, login="bo", password=WORDS, now=clock()).login == "bo"


def test_another_password_ends_every_session(store, clock, teacher):
    with store.begin_writing() as connection:
        add_session(connection, teacher.id, "token", device="phone", now=clock())
        change_password(connection, teacher.id, "four new drum sticks")
        assert list_sessions(connection, teacher.id, "token", clock()) == ()
        assert find_account_by_login(connection, "ada").epoch == teacher.epoch + 1
        assert sign_in(connection, "ada", WORDS) is None


def test_accounts_are_noted(store, teacher):
    with store.begin_reading() as connection:
        assert [row.what for row in connection.execute(select(audit))] == ["account made"]
