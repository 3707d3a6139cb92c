"""The first tables."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """From nothing."""
    op.create_table(
        "audit",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("who", sa.String(length=80), nullable=False),
        sa.Column("what", sa.String(length=40), nullable=False),
        sa.Column("detail", sa.String(length=200), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_audit")),
    )
    op.create_index(op.f("ix_audit_at"), "audit", ["at"], unique=False)
    op.create_table(
        "teacher",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("created", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_teacher")),
    )
    op.create_table(
        "own",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("teacher_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.CheckConstraint("kind in ('figure', 'groove', 'kit')", name=op.f("ck_own_kind")),
        sa.ForeignKeyConstraint(
            ["teacher_id"], ["teacher.id"], name=op.f("fk_own_teacher_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_own")),
        sa.UniqueConstraint("teacher_id", "kind", "name", name=op.f("uq_own_teacher_id_kind_name")),
    )
    op.create_index(op.f("ix_own_teacher_id"), "own", ["teacher_id"], unique=False)
    op.create_table(
        "series",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("teacher_id", sa.Integer(), nullable=False),
        sa.Column("title", sa.String(length=80), nullable=False),
        sa.ForeignKeyConstraint(
            ["teacher_id"], ["teacher.id"], name=op.f("fk_series_teacher_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_series")),
        sa.UniqueConstraint("teacher_id", "title", name=op.f("uq_series_teacher_id_title")),
    )
    op.create_index(op.f("ix_series_teacher_id"), "series", ["teacher_id"], unique=False)
    op.create_table(
        "setting",
        sa.Column("teacher_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["teacher_id"], ["teacher.id"], name=op.f("fk_setting_teacher_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("teacher_id", "name", name=op.f("pk_setting")),
    )
    op.create_table(
        "student",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("teacher_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("hand", sa.String(length=5), nullable=False),
        sa.Column("level", sa.String(length=20), nullable=False),
        sa.Column("kit", sa.String(length=80), nullable=False),
        sa.Column("practises_on", sa.String(length=20), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("created", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["teacher_id"], ["teacher.id"], name=op.f("fk_student_teacher_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_student")),
    )
    op.create_index(op.f("ix_student_teacher_id"), "student", ["teacher_id"], unique=False)
    op.create_table(
        "account",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("login", sa.String(length=80), nullable=False),
        sa.Column("password", sa.String(length=200), nullable=False),
        sa.Column("role", sa.String(length=10), nullable=False),
        sa.Column("teacher_id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=True),
        sa.Column("epoch", sa.Integer(), nullable=False),
        sa.CheckConstraint("(role = 'student') = (student_id is not null)", name=op.f("ck_account_role")),
        sa.ForeignKeyConstraint(
            ["student_id"], ["student.id"], name=op.f("fk_account_student_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["teacher_id"], ["teacher.id"], name=op.f("fk_account_teacher_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_account")),
        sa.UniqueConstraint("login", name=op.f("uq_account_login")),
        sa.UniqueConstraint("student_id", name=op.f("uq_account_student_id")),
    )
    op.create_index(op.f("ix_account_student_id"), "account", ["student_id"], unique=False)
    op.create_index(op.f("ix_account_teacher_id"), "account", ["teacher_id"], unique=False)
    op.create_table(
        "invitation",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("token", sa.String(length=64), nullable=False),
        sa.Column("role", sa.String(length=10), nullable=False),
        sa.Column("teacher_id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=True),
        sa.Column("until", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["student_id"], ["student.id"], name=op.f("fk_invitation_student_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["teacher_id"], ["teacher.id"], name=op.f("fk_invitation_teacher_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_invitation")),
        sa.UniqueConstraint("token", name=op.f("uq_invitation_token")),
    )
    op.create_index(op.f("ix_invitation_student_id"), "invitation", ["student_id"], unique=False)
    op.create_index(op.f("ix_invitation_teacher_id"), "invitation", ["teacher_id"], unique=False)
    op.create_table(
        "lesson",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("series_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("title", sa.String(length=80), nullable=False),
        sa.Column("put_away", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["series_id"], ["series.id"], name=op.f("fk_lesson_series_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lesson")),
    )
    op.create_index(op.f("ix_lesson_series_id"), "lesson", ["series_id"], unique=False)
    op.create_table(
        "assignment",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=False),
        sa.Column("lesson_id", sa.Integer(), nullable=False),
        sa.Column("fill", sa.String(length=120), nullable=False),
        sa.Column("given", sa.DateTime(), nullable=False),
        sa.Column("due", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(
            ["lesson_id"], ["lesson.id"], name=op.f("fk_assignment_lesson_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["student_id"], ["student.id"], name=op.f("fk_assignment_student_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_assignment")),
        sa.UniqueConstraint(
            "student_id", "lesson_id", "fill", name=op.f("uq_assignment_student_id_lesson_id_fill")
        ),
    )
    op.create_index(op.f("ix_assignment_lesson_id"), "assignment", ["lesson_id"], unique=False)
    op.create_index(op.f("ix_assignment_student_id"), "assignment", ["student_id"], unique=False)
    op.create_table(
        "lesson_version",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("lesson_id", sa.Integer(), nullable=False),
        sa.Column("saved", sa.DateTime(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["lesson_id"], ["lesson.id"], name=op.f("fk_lesson_version_lesson_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lesson_version")),
    )
    op.create_index(op.f("ix_lesson_version_lesson_id"), "lesson_version", ["lesson_id"], unique=False)
    op.create_table(
        "practice",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=False),
        sa.Column("lesson_id", sa.Integer(), nullable=True),
        sa.Column("fill", sa.String(length=120), nullable=False),
        sa.Column("tempo", sa.Integer(), nullable=True),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("minutes", sa.Float(), nullable=False),
        sa.ForeignKeyConstraint(
            ["lesson_id"], ["lesson.id"], name=op.f("fk_practice_lesson_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["student_id"], ["student.id"], name=op.f("fk_practice_student_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_practice")),
    )
    op.create_index(op.f("ix_practice_lesson_id"), "practice", ["lesson_id"], unique=False)
    op.create_index(op.f("ix_practice_student_id"), "practice", ["student_id"], unique=False)
    op.create_table(
        "take",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=False),
        sa.Column("lesson_id", sa.Integer(), nullable=False),
        sa.Column("fill", sa.String(length=120), nullable=False),
        sa.Column("tempo", sa.Integer(), nullable=False),
        sa.Column("recorded", sa.DateTime(), nullable=False),
        sa.Column("media_type", sa.String(length=60), nullable=False),
        sa.Column("report", sa.JSON(), nullable=False),
        sa.Column("passed", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["lesson_id"], ["lesson.id"], name=op.f("fk_take_lesson_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["student_id"], ["student.id"], name=op.f("fk_take_student_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_take")),
    )
    op.create_index(op.f("ix_take_lesson_id"), "take", ["lesson_id"], unique=False)
    op.create_index(op.f("ix_take_student_id"), "take", ["student_id"], unique=False)
    op.create_table(
        "passed",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=False),
        sa.Column("lesson_id", sa.Integer(), nullable=False),
        sa.Column("fill", sa.String(length=120), nullable=False),
        sa.Column("tempo", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("take_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["lesson_id"], ["lesson.id"], name=op.f("fk_passed_lesson_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["student_id"], ["student.id"], name=op.f("fk_passed_student_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(["take_id"], ["take.id"], name=op.f("fk_passed_take_id"), ondelete="SET NULL"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_passed")),
    )
    op.create_index(op.f("ix_passed_lesson_id"), "passed", ["lesson_id"], unique=False)
    op.create_index(op.f("ix_passed_student_id"), "passed", ["student_id"], unique=False)
    op.create_index(op.f("ix_passed_take_id"), "passed", ["take_id"], unique=False)
    op.create_table(
        "take_media",
        sa.Column("take_id", sa.Integer(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("picture", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["take_id"], ["take.id"], name=op.f("fk_take_media_take_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("take_id", name=op.f("pk_take_media")),
    )
