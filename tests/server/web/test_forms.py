from django import forms

from server.core.errors import Conflict, Fault, Invalid
from server.web.forms import PageForm, missing


class Asking(PageForm):
    name = forms.CharField(error_messages=missing("Say it."))


def test_faults_stand_beside_their_fields_and_others_above():
    form = Asking({"name": "x"})
    assert form.is_valid()
    form.refuse(Invalid(faults=[Fault(pointer="#/a/name", message="Too short."), Fault(pointer="#/b", message="No.")]))
    assert (form.errors["name"], form.non_field_errors(), form.n_faults) == (["Too short."], ["No."], 2)


def test_a_refusal_without_faults_stands_above():
    form = Asking({"name": "x"})
    form.refuse(Conflict("Not before tomorrow."))
    assert form.non_field_errors() == ["Not before tomorrow."]


def test_what_is_missing_is_said_in_our_words():
    assert Asking({}).errors["name"] == ["Say it."]
