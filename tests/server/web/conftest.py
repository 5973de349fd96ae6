import pytest


@pytest.fixture
def browser_of(client):
    """Signs the test client in as a member of the cast."""

    def signed_in(member):
        client.force_login(member.account)
        return client

    return signed_in
