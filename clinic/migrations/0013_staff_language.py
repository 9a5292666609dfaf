from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("clinic", "0012_wrong_passwords")]

    operations = [
        migrations.AddField(
            model_name="staff",
            name="language",
            field=models.CharField(
                blank=True, default="", help_text="a code of settings.LANGUAGES; empty: the browser's", max_length=10
            ),
        ),
    ]
